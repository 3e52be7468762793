using System.Security.Cryptography;
using Registry.Rules.Statistics;

namespace Registry.Rules.Chance;

/// <summary>
/// Fits the chance of loss to past cases, and tells by cross-validation whether it comes true: every case is given its chance by a fit that
/// has not seen its infant. A logistic model of main effects; each level is drawn to the average of its factor by a ridge penalty (prior
/// standard deviation 1 on the logit), so that a rare one says little. The penalty is ours.
/// </summary>
public static class FitLoss
{
    private const int Folds = 10;

    /// <summary>A level seen in fewer cases counts as average. Own choice.</summary>
    private const int FewestOfLevel = 10;

    /// <summary>Fewer infants lost, or not lost, say too little: at least 100 events and 100 non-events are advised for checking a model
    /// (Collins, Ogundimu and Altman, Stat Med 2016;35:214; from memory).</summary>
    public const int FewestInfants = 100;

    /// <returns>Null where the history is too short.</returns>
    public static (LossModel Model, LossCheck Check)? Of(IReadOnlyList<PastCase> cases, int smallCount)
    {
        var lost = cases.Where(c => c.Lost).Select(c => c.Infant).Distinct().Count();
        var others = cases.Select(c => c.Infant).Distinct().Count() - lost;
        if (lost < FewestInfants || others < FewestInfants) return null;
        var chances = new double[cases.Count];
        foreach (var fold in cases.Select((c, i) => (Case: c, At: i)).GroupBy(c => FoldOf(c.Case.Infant)))
        {
            var model = Fit([.. cases.Where(c => FoldOf(c.Infant) != fold.Key)]);
            foreach (var (held, at) in fold) chances[at] = model.Probability(held.Case);
        }

        return (Fit(cases), LossCheck.Of([.. cases.Zip(chances)], smallCount));
    }

    /// <summary>An infant is always in one fold, whoever else there is.</summary>
    private static int FoldOf(Guid infant) => SHA256.HashData(infant.ToByteArray())[0] % Folds;

    private static LossModel Fit(IReadOnlyCollection<PastCase> cases)
    {
        (LossFactor Factor, string Level, int Cases)[] levels =
        [
            .. Enum.GetValues<LossFactor>().SelectMany(f => cases.GroupBy(c => c.Case[f])
                .Select(g => (f, g.Key, g.Count())).Where(l => l.Item3 >= FewestOfLevel).OrderBy(l => l.Key, StringComparer.Ordinal)),
        ];
        var at = levels.Select((l, i) => (l, i)).ToDictionary(l => (l.l.Factor, l.l.Level), l => l.i + 1);
        GroupedTrials[] rows =
        [
            .. cases.GroupBy(c => string.Join('\u001f', c.Case.Levels)).Select(alike =>
            {
                var x = new double[levels.Length + 1];
                x[0] = 1;
                foreach (var (i, level) in alike.First().Case.Levels.Index())
                    if (at.TryGetValue(((LossFactor)i, level), out var column)) x[column] = 1;
                return new GroupedTrials(x, alike.Count(), alike.Count(c => c.Lost));
            }),
        ];
        var fit = LogisticRegression.Fit(rows, [0, .. Enumerable.Repeat(1.0, levels.Length)]);
        return Centered(levels, fit.Coefficients, cases.Count);
    }

    /// <summary>Says each level as above or below the average of its factor: the same chances, and what raises one can be said.</summary>
    private static LossModel Centered(
        (LossFactor Factor, string Level, int Cases)[] levels, IReadOnlyList<double> fitted, int cases)
    {
        var intercept = fitted[0];
        var terms = new List<LossTerm>();
        foreach (var factor in levels.Select((l, i) => (Level: l, LogOdds: fitted[i + 1])).GroupBy(l => l.Level.Factor))
        {
            var average = factor.Sum(l => l.Level.Cases * l.LogOdds) / cases;
            intercept += average;

            // A level seen too rarely had no coefficient of its own: beside the average it has none either, which is nearly the same.
            terms.AddRange(factor.Select(l => new LossTerm(factor.Key, l.Level.Level, l.Level.Cases, l.LogOdds - average)));
        }

        return new(intercept, terms);
    }
}
