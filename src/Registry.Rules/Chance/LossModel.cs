using Registry.Rules.Statistics;

namespace Registry.Rules.Chance;

/// <summary>One coefficient.</summary>
/// <param name="Cases">It was seen in.</param>
/// <param name="LogOdds">Above or below the average of its factor.</param>
public sealed record LossTerm(LossFactor Factor, string Level, int Cases, double LogOdds);

/// <summary>A chance of loss, and what raises it most.</summary>
public readonly record struct ChanceOfLoss(double Probability, IReadOnlyList<LossFactor> Because);

/// <summary>The registry's own history of loss, as it was fitted.</summary>
/// <param name="Intercept">Log odds of a case that is average in everything.</param>
/// <param name="Terms">A level without one counts as average.</param>
public sealed record LossModel(double Intercept, IReadOnlyList<LossTerm> Terms)
{
    private const int MostReasons = 3;

    /// <summary>What raises the odds by less is not said. Own choice: a fifth.</summary>
    private const double WorthSaying = 0.18;

    private readonly Dictionary<(LossFactor, string), double> _logOdds = Terms.ToDictionary(t => (t.Factor, t.Level), t => t.LogOdds);

    public double Probability(LossCase of) => LogisticRegression.Probability(Intercept + of.Levels.Select((level, i) =>
        LogOdds((LossFactor)i, level)).Sum());

    public ChanceOfLoss Of(LossCase one) => new(Probability(one),
    [
        .. Enum.GetValues<LossFactor>().Where(f => IsSaid(f, one[f]))
            .Select(f => (Factor: f, Raises: LogOdds(f, one[f]))).Where(f => f.Raises >= WorthSaying)
            .OrderByDescending(f => f.Raises).ThenBy(f => f.Factor).Take(MostReasons).Select(f => f.Factor),
    ]);

    /// <summary>That a step is due at an age is said by the row itself; that there are phones enough, or that nothing happened, is no
    /// reason to name.</summary>
    private static bool IsSaid(LossFactor factor, string level) => factor switch
    {
        LossFactor.Step or LossFactor.Age => false,
        LossFactor.Phone => level is "0" or "1",
        LossFactor.Nicu or LossFactor.NoShow or LossFactor.OtherCounty or LossFactor.Interpreter or LossFactor.Guardian => level == "yes",
        LossFactor.Tries => level is "1" or "2" or "3",
        _ => true,
    };

    private double LogOdds(LossFactor factor, string level) => _logOdds.GetValueOrDefault((factor, level));
}

/// <summary>What an infant's chance of loss is told from, beside its facts.</summary>
public sealed record KnownChance(LossModel Model, LossTraits Traits)
{
    internal ChanceOfLoss? Of(Facts.InfantFacts facts, InfantStatus status, ref Day day) =>
        LossCase.Of(facts, status, Traits, ref day) is { } one ? Model.Of(one) : null;
}
