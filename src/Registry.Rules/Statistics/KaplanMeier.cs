using MathNet.Numerics.Distributions;

namespace Registry.Rules.Statistics;

/// <summary>One observed time in whole units (days): an event, or censored (still waiting when last looked at). Followed only
/// <paramref name="After"/> a time: whoever enters late is not at risk before.</summary>
public readonly record struct Waiting(int Time, bool Event, int After = -1);

/// <summary>One step of a survival curve, at a time when an event happened.</summary>
/// <param name="Time">In the unit of the input.</param>
/// <param name="AtRisk">Waiting just before.</param>
/// <param name="Events">Events at this time.</param>
/// <param name="Survival">Estimated share still waiting just after.</param>
/// <param name="StandardError">Greenwood's; 0 where survival has reached 0, which says nothing about its error.</param>
/// <param name="Limits">Log-log limits; null when survival is 0 or 1 and they are not defined.</param>
public readonly record struct SurvivalStep(int Time, int AtRisk, int Events, double Survival, double StandardError, Interval? Limits);

/// <summary>
/// The product-limit estimate (Kaplan and Meier, JASA 1958;53:457) with Greenwood's variance and limits on the log-log scale,
/// which stay in [0, 1] (Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data). Entry may be delayed.
/// </summary>
public static class KaplanMeier
{
    /// <param name="times">Any order; times are not negative.</param>
    /// <param name="confidence">Of the limits, in (0, 1).</param>
    /// <returns>A step per distinct event time, in order; empty when nothing happened.</returns>
    /// <exception cref="ArgumentOutOfRangeException">A time is negative, or the confidence lies outside its range.</exception>
    public static SurvivalStep[] Estimate(IEnumerable<Waiting> times, double confidence = 0.95)
    {
        if (confidence is not (> 0 and < 1))
            throw new ArgumentOutOfRangeException(nameof(confidence), confidence, "A confidence level lies between 0 and 1.");
        var z = Normal.InvCDF(0, 1, 1 - (1 - confidence) / 2);
        var steps = new List<SurvivalStep>();
        double survival = 1, greenwood = 0;
        foreach (var (time, atRisk, events, _) in RiskSet.Of(
            times.Select(t => new CompetingWait(t.Time, t.Event ? WaitEnd.Event : WaitEnd.Censored, t.After))))
        {
            survival *= 1 - (double)events / atRisk;
            greenwood += atRisk == events ? 0 : (double)events / ((double)atRisk * (atRisk - events));
            steps.Add(new SurvivalStep(time, atRisk, events, survival, survival * Math.Sqrt(greenwood), LogLog(survival, greenwood, z)));
        }

        return [.. steps];
    }

    /// <summary>The step in force at <paramref name="time"/>; null before the first event (survival 1).</summary>
    public static SurvivalStep? At(IReadOnlyList<SurvivalStep> steps, int time)
    {
        SurvivalStep? last = null;
        foreach (var step in steps)
        {
            if (step.Time > time) break;
            last = step;
        }

        return last;
    }

    /// <summary>The first time at which no more than half are still waiting; null when the curve never falls that far, as
    /// when most are still waiting. (Where the curve is exactly one half for a while some programs give the middle of that
    /// stretch.)</summary>
    public static int? Median(IReadOnlyList<SurvivalStep> steps)
    {
        foreach (var step in steps)
            if (step.Survival <= 0.5 + 1e-12) return step.Time;
        return null;
    }

    private static Interval? LogLog(double survival, double greenwood, double z)
    {
        if (survival is <= 0 or >= 1) return null;
        var spread = Math.Exp(z * Math.Sqrt(greenwood) / Math.Abs(Math.Log(survival)));
        return new Interval(Math.Pow(survival, spread), Math.Pow(survival, 1 / spread));
    }
}
