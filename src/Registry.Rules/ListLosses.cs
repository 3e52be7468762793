using Registry.Rules.Facts;

namespace Registry.Rules;

/// <summary>Days on which the rules call an infant lost at a step.</summary>
/// <param name="Loss">As on the last of them.</param>
/// <param name="From">The first of them.</param>
/// <param name="Until">The first day it was lost there no more; null: it still is.</param>
/// <param name="Then">What the survey calls the step on that day.</param>
public sealed record LossStretch(PathStep Step, LossState Loss, DateOnly From, DateOnly? Until, SurveyCategory? Then);

/// <summary>When an infant was lost, and when no longer, from its birth to a day, by facts as they are known now.</summary>
public static class ListLosses
{
    /// <summary>Goes from one change of the status to the next: between them it says the same.</summary>
    public static IReadOnlyList<LossStretch> Of(InfantFacts facts, Policy policy, DateOnly through)
    {
        var stretches = new List<LossStretch>();
        LossStretch? open = null;
        for (DateOnly? next = facts.Birth.Date; next is { } day && day <= through;)
        {
            var status = EvaluateInfant.Evaluate(facts, policy, day);
            if (open is not null && status.LostAt != open.Step)
            {
                stretches.Add(open with { Until = day, Then = CategoryOf(status, open.Step) });
                open = null;
            }

            if (status.LostAt is { } step) open = new(step, status.Loss, open?.From ?? day, null, null);
            next = status.NextChangeOn;
        }

        if (open is not null) stretches.Add(open);
        return stretches;
    }

    private static SurveyCategory CategoryOf(InfantStatus status, PathStep step) => step switch
    {
        PathStep.Screening => status.ScreeningCategory,
        PathStep.Diagnosis => status.DiagnosisCategory,
        _ => status.InterventionCategory,
    };
}
