using Registry.Infants.Record;
using Registry.Rules.Work;

namespace Registry.FollowUp;

/// <summary>The work list as a file: a call sheet for a spreadsheet.</summary>
internal static class WorkColumns
{
    private static readonly (string Name, Func<WorkRow, DateOnly, object?> Value)[] All =
    [
        ("tray", (r, _) => r.Tray),
        ("mother", (r, _) => r.Mother),
        ("child", (r, _) => r.Child),
        ("record_number", (r, _) => r.RecordNumber),
        ("born_on", (r, _) => r.BornOn),
        ("age", (r, today) => RecordWords.Age(r.BornOn, today)),
        ("next_step", (r, _) => r.Step),
        ("next_due_on", (r, _) => r.DueOn),
        ("screening", (r, _) => r.Screening),
        ("why", (r, today) => string.Join("; ", WorkWords.Why(r, today))),
        ("phone", (r, _) => r.Phone),
        ("language", (r, _) => r.Language),
        ("contact_attempts", (r, _) => r.Attempts),
        ("last_contact_on", (r, _) => r.LastOn),
        ("last_contact", (r, _) => r.LastOutcome),
        ("call_again_on", (r, _) => r.Day(WorkReasonKind.CallAgain) ?? r.Day(WorkReasonKind.PutOff)),
        ("appointment_on", (r, _) => r.Day(WorkReasonKind.AppointmentOn) ?? r.Day(WorkReasonKind.AppointmentPassed)),
        ("responsible_site", (r, _) => r.Site.Site),
    ];

    public static string[] Names { get; } = [.. All.Select(c => c.Name)];

    public static object?[] Of(WorkRow row, DateOnly today) => Array.ConvertAll(All, c => c.Value(row, today));
}
