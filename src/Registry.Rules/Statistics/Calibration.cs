namespace Registry.Rules.Statistics;

/// <summary>Cases that were given about the same probability, and what came of them.</summary>
/// <param name="Cases">How many.</param>
/// <param name="Expected">The sum of their probabilities.</param>
/// <param name="Events">How many had the outcome.</param>
public readonly record struct CalibrationGroup(long Cases, double Expected, long Events)
{
    public static CalibrationGroup operator +(CalibrationGroup a, CalibrationGroup b) =>
        new(a.Cases + b.Cases, a.Expected + b.Expected, a.Events + b.Events);
}

/// <summary>Whether probabilities come true (Cox, Biometrika 1958;45:562): the logit of the outcome is regressed on that of the
/// probability. A slope of 1 and an intercept of 0 is right; a slope below 1 says that high ones are too high and low ones too
/// low.</summary>
/// <param name="Intercept">With the slope held at 1: above 0 more had the outcome than was said.</param>
/// <param name="InterceptError">Its standard error.</param>
/// <param name="Slope">Fitted.</param>
/// <param name="SlopeError">Its standard error.</param>
/// <param name="Groups">About as many cases in each, from the lowest probability to the highest.</param>
public sealed record Calibration(
    double Intercept, double InterceptError, double Slope, double SlopeError, IReadOnlyList<CalibrationGroup> Groups)
{
    /// <summary>Keeps logits of 0 and 1 finite.</summary>
    private const double Edge = 1e-9;

    /// <returns>Null where nobody or everybody had the outcome, or all were given one probability.</returns>
    public static Calibration? Of(IReadOnlyList<(double Probability, bool Event)> stated, int groups = 10)
    {
        var events = stated.Count(s => s.Event);
        if (events == 0 || events == stated.Count || stated.Select(s => s.Probability).Distinct().Take(2).Count() < 2) return null;
        double[] logits = [.. stated.Select(s => LogisticRegression.Logit(Math.Clamp(s.Probability, Edge, 1 - Edge)))];
        var slope = LogisticRegression.Fit([.. stated.Select((s, i) => new GroupedTrials([1, logits[i]], 1, s.Event ? 1 : 0))]);
        var level = LogisticRegression.Fit([.. stated.Select((s, i) => new GroupedTrials([1], 1, s.Event ? 1 : 0, logits[i]))]);
        var sorted = stated.OrderBy(s => s.Probability).ToList();
        return new(level.Coefficients[0], level.StandardErrors[0], slope.Coefficients[1], slope.StandardErrors[1],
        [
            .. sorted.Select((s, i) => (s.Probability, s.Event, Group: (int)((long)i * groups / sorted.Count))).GroupBy(s => s.Group)
                .Select(g => new CalibrationGroup(g.Count(), g.Sum(s => s.Probability), g.Count(s => s.Event))),
        ]);
    }
}
