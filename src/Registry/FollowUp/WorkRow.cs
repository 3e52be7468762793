using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Work;

namespace Registry.FollowUp;

/// <summary>One infant of the work list: who is called about whom, and why.</summary>
public sealed record WorkRow
{
    public required InfantId Id { get; init; }
    public required WorkTray Tray { get; init; }
    public required DueStep Step { get; init; }
    public required DateOnly DueOn { get; init; }
    public required IReadOnlyList<WorkReason> Reasons { get; init; }
    public required DateOnly BornOn { get; init; }
    public required string Child { get; init; }
    public required string Mother { get; init; }
    public required string? RecordNumber { get; init; }
    public required string? Phone { get; init; }
    public required string? Language { get; init; }
    public required ScreeningConclusion Screening { get; init; }
    public required HearingConclusion Hearing { get; init; }
    public required StatusFlags Flags { get; init; }
    /// <summary>Who owns the next step, and who is called about it.</summary>
    public required SiteContact Site { get; init; }
    public required int Attempts { get; init; }
    public required DateOnly? LastOn { get; init; }
    public required ContactOutcome? LastOutcome { get; init; }

    /// <summary>Where the list continues after this row.</summary>
    public required string Position { get; init; }

    public DateOnly? Day(WorkReasonKind kind) => Reasons.FirstOrDefault(r => r.Kind == kind).On;
}

/// <summary>How many infants are where, of those a filter leaves.</summary>
public sealed record WorkCounts(IReadOnlyDictionary<WorkTray, long> ByTray)
{
    public static IReadOnlyList<WorkTray> Trays { get; } = [.. Enum.GetValues<WorkTray>().Where(t => t != WorkTray.NotYet)];

    public long Of(WorkTray tray) => ByTray.GetValueOrDefault(tray);

    /// <summary>All that is work now.</summary>
    public long All => Trays.Where(t => t != WorkTray.Closed).Sum(Of);
}
