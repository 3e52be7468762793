using Registry.Rules.Facts;
using Registry.Rules.Statistics;

namespace Registry.Rules.Measures;

/// <summary>
/// Age at a step, for cohorts still in progress. An infant is followed from the day it can take the step (from birth; from the screen it
/// did not pass; from the confirmation of a hearing loss) to the last day that is completely reported. Kaplan-Meier treats
/// death, move and refusal as censoring (what would happen if nobody left); Aalen-Johansen lets them compete (what does happen).
/// </summary>
/// <param name="Line">The line of the measure set that counts the population.</param>
/// <param name="EntersOn">The day from which an infant of the population is at risk.</param>
public sealed record TimeToEvent(
    string Code, string Name, string Line, PathStep Step, Func<MeasuredInfant, bool> Population, Func<MeasuredInfant, DateOnly?> EntersOn,
    Func<MeasuredInfant, DateOnly?> DoneOn)
{
    /// <summary>Ages at which the estimates are read: 1, 3 and 6 average months of 30.44 days, in whole days.</summary>
    public static IReadOnlyList<(int Months, int Days)> ReadAt { get; } = [(1, 30), (3, 91), (6, 182)];

    public static IReadOnlyList<TimeToEvent> All { get; } =
    [
        new("age_at_screen", "Age at complete screen, of all births", "births", PathStep.Screening, i => i.BornInRegion,
            i => i.Born, i => i.ScreenedOn),
        new("age_at_diagnosis", "Age at diagnosis, of those who did not pass", "screening.not_pass", PathStep.Diagnosis,
            i => i.BornInRegion && i.NotPassed, i => i.LastScreenedOn, i => i.DiagnosedOn),
        new("age_at_enrolment", "Age at enrollment, of those with permanent hearing loss", "loss", PathStep.Intervention,
            i => i.BornInRegion && i.PermanentLoss, i => i.LossConfirmedOn, i => i.EnrolledOn),
    ];

    /// <summary>The wait of an infant of the population, in whole days of age; its competing ends are death, move and refusal.</summary>
    /// <param name="infant">Of the population.</param>
    /// <param name="through">The last day that is completely reported; whatever happened later is not known of all.</param>
    /// <returns>Null when the infant was not at risk by then.</returns>
    public CompetingWait? WaitOf(MeasuredInfant infant, DateOnly through)
    {
        var left = Earliest(infant.DiedOn, infant.Gone?.MovedOn, infant.RefusedOn(Step));
        var (on, end) = DoneOn(infant) is { } done ? (done, WaitEnd.Event)
            : left is { } day ? (day, WaitEnd.Competing)
            : (through, WaitEnd.Censored);
        if (on > through) (on, end) = (through, WaitEnd.Censored);

        // Who took the step before, or left, was at risk on that day.
        var entered = Earliest(EntersOn(infant), end == WaitEnd.Event ? on : null) ?? infant.Born;
        if (entered > on || infant.Born > through) return null;
        return new(Age(on), end, Age(entered) - 1);

        int Age(DateOnly date) => Math.Max(0, date.DayNumber - infant.Born.DayNumber);
    }

    private static DateOnly? Earliest(params ReadOnlySpan<DateOnly?> days)
    {
        DateOnly? earliest = null;
        foreach (var day in days)
            if (day is not null && (earliest is null || day < earliest)) earliest = day;
        return earliest;
    }
}
