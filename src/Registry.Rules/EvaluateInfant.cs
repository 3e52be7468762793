using Registry.Rules.Facts;

namespace Registry.Rules;

/// <summary>From an infant's facts, a policy and a day: where the infant stands.</summary>
public static class EvaluateInfant
{
    /// <param name="facts">The facts as known; those that happened after <paramref name="asOf"/> are ignored.</param>
    /// <param name="policy">The policy in force.</param>
    /// <param name="asOf">The day the answer is for; on or after the birth date.</param>
    public static InfantStatus Evaluate(InfantFacts facts, Policy policy, DateOnly asOf) =>
        throw new InvalidOperationException($"No rules yet for {policy.Version} {asOf} {facts.Birth.Date}.");
}
