using Registry.Rules.Facts;

namespace Registry.Rules.Work;

/// <summary>Somebody ended the work about a step of the path.</summary>
/// <param name="Step">The step.</param>
/// <param name="On">The day.</param>
public readonly record struct Closed(PathStep Step, DateOnly On)
{
    /// <summary>Why work is ended that no fact ends: lines of the national survey. A death, a move, a refusal and a medical reason are
    /// facts, and end it by themselves.</summary>
    public static IReadOnlyList<SurveyCategory> Reasons { get; } =
        [SurveyCategory.Unresponsive, SurveyCategory.UnableToContact, SurveyCategory.Unknown, SurveyCategory.Other];

    /// <summary>Something happened later that opens it again: a result, an appointment, or somebody of the family was reached.</summary>
    internal bool HasNews(InfantFacts facts, ref Day day)
    {
        IEnumerable<DateOnly> later =
        [
            .. facts.Tests.Select(t => DateOnly.FromDateTime(t.PerformedAt)), .. facts.Evaluations.Select(e => e.EvaluatedOn),
            .. facts.Interventions.Select(i => i.HappenedOn), .. facts.Appointments.Select(a => a.HappenedOn),
            .. facts.ContactAttempts.Where(a => a.Outcome is ContactOutcome.Reached or ContactOutcome.AppointmentMade)
                .Select(a => a.AttemptedOn),
        ];
        var has = false;
        foreach (var on in later)
            if (on > On && day.Reached(on)) has = true;
        return has;
    }
}
