using Registry.Rules.Facts;
using Registry.Rules.Statistics;

namespace Registry.Rules.Measures;

/// <summary>
/// Age at a step, for cohorts still in progress. Followed from birth; those who did not get there by the as-of date are
/// censored on it. Kaplan-Meier treats death, move and refusal as censoring (what would happen if nobody left);
/// Aalen-Johansen lets them compete (what does happen).
/// </summary>
/// <param name="Line">The line of the measure set that counts the population.</param>
/// <remarks>The second and third curve follow those already known to have not passed, or to have a loss: an infant whose screen
/// or diagnosis is still outstanding is not in them yet.</remarks>
public sealed record TimeToEvent(
    string Code, string Name, string Line, PathStep Step, Func<MeasuredInfant, bool> Population, Func<MeasuredInfant, DateOnly?> DoneOn)
{
    /// <summary>Ages at which the estimates are read: 1, 3 and 6 average months of 30.44 days, in whole days.</summary>
    public static IReadOnlyList<(int Months, int Days)> ReadAt { get; } = [(1, 30), (3, 91), (6, 182)];

    public static IReadOnlyList<TimeToEvent> All { get; } =
    [
        new("age_at_screen", "Age at complete screen, of all births", "births", PathStep.Screening, i => i.BornInRegion, i => i.ScreenedOn),
        new("age_at_diagnosis", "Age at diagnosis, of those who did not pass", "screening.not_pass", PathStep.Diagnosis,
            i => i.BornInRegion && i.NotPassed, i => i.DiagnosedOn),
        new("age_at_enrolment", "Age at enrolment, of those with permanent loss", "loss", PathStep.Intervention,
            i => i.BornInRegion && i.PermanentLoss, i => i.EnrolledOn),
    ];

    /// <summary>The wait of an infant of the population, in whole days of age; its competing ends are death, move and refusal.</summary>
    public CompetingWait WaitOf(MeasuredInfant infant)
    {
        var left = Earliest(infant.DiedOn, infant.Gone?.MovedOn, infant.RefusedOn(Step));
        return DoneOn(infant) is { } done ? At(done, WaitEnd.Event)
            : left is { } day ? At(day, WaitEnd.Competing)
            : At(infant.AsOf, WaitEnd.Censored);

        CompetingWait At(DateOnly on, WaitEnd end) => new(Math.Max(0, on.DayNumber - infant.Born.DayNumber), end);
    }

    private static DateOnly? Earliest(params ReadOnlySpan<DateOnly?> days)
    {
        DateOnly? earliest = null;
        foreach (var day in days)
            if (day is not null && (earliest is null || day < earliest)) earliest = day;
        return earliest;
    }
}
