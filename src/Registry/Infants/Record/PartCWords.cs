using Registry.Rules.Milestones;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>How the two clocks of Part C read on the record: measured, and by when.</summary>
public static class PartCWords
{
    public static string Referral(PartCClocks clocks) => clocks.ReferredOn is { } on
        ? $"Referred {Words.Date(on)}, {Words.Count(clocks.DaysToReferral!.Value, "day")} after identification: "
            + (clocks.ReferredInTime == true ? "in time (no more than 7)" : "late (no more than 7)")
        : $"No referral reported; no later than {Words.Date(clocks.ReferBy)}, 7 days after identification";

    public static string Plan(PartCClocks clocks)
    {
        var stood = clocks.PausedDays > 0 ? $"; the clock stood still for {Words.Count(clocks.PausedDays, "day")}" : "";
        if (clocks.PlanBy is not { } by) return "IFSP meeting: 45 days from the receipt of the referral";
        var from = clocks.ReceivedOn is { } received ? $"received {Words.Date(received)}"
            : "receipt not reported, counted from the referral";
        return clocks.PlannedOn is { } planned
            ? $"IFSP meeting {Words.Date(planned)}, {(clocks.PlannedInTime == true ? "in time" : "late")}: "
                + $"by {Words.Date(by)} ({from}{stood})"
            : clocks.Paused ? $"IFSP meeting: the 45 days stand still, for family circumstances or until consent ({from}{stood})"
            : $"IFSP meeting by {Words.Date(by)} ({from}{stood})";
    }
}
