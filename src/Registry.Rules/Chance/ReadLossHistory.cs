using Registry.Rules.Facts;

namespace Registry.Rules.Chance;

/// <summary>What came of a case: whether the infant was lost when its time was over.</summary>
public sealed record PastCase(Guid Infant, LossCase Case, bool Lost, LossTraits Traits);

/// <summary>
/// The cases of one infant's past, at a few ages: what was known of it then, and whether it was lost some months later (landmarks:
/// van Houwelingen, Scand J Stat 2007;34:70; from memory). An infant that died, moved away or declined is not lost.
/// </summary>
public static class ReadLossHistory
{
    /// <summary>Ages in days at which an infant is looked at. The ages are ours.</summary>
    public static IReadOnlyList<int> Ages { get; } = [14, 30, 60, 90, 150, 240];

    /// <summary>How many days later it is asked whether the infant is lost. Own choice: past the next milestone in all cases.</summary>
    public static int HorizonDays(Policy policy) => 180 + policy.LossGraceDays;

    /// <param name="infant">Its id.</param>
    /// <param name="facts">As known now: what happened by a day counts on it.</param>
    /// <param name="traits">As known on a day.</param>
    /// <param name="policy">In force.</param>
    /// <param name="through">The last day whose results have come in.</param>
    public static IEnumerable<PastCase> Of(
        Guid infant, InfantFacts facts, Func<DateOnly, LossTraits?> traits, Policy policy, DateOnly through)
    {
        foreach (var age in Ages)
        {
            var on = facts.Birth.Date.AddDays(age);
            var later = on.AddDays(HorizonDays(policy));
            if (later > through) yield break;
            if (traits(on) is not { } known
                || LossCase.Of(facts, EvaluateInfant.Evaluate(facts, policy, on), known, on) is not { } found) continue;
            yield return new(infant, found, EvaluateInfant.Evaluate(facts, policy, later).Loss != LossState.None, known);
        }
    }
}
