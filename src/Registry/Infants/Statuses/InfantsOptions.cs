using System.ComponentModel.DataAnnotations;

namespace Registry.Infants.Statuses;

/// <summary>What looking at lists, at past days and searching may cost.</summary>
public sealed record InfantsOptions
{
    /// <summary>Statuses of past days kept at a time, over all days (some 600 bytes each); those of one day are always kept.</summary>
    [Range(1, 1_000_000_000)] public long SnapshotRows { get; init; } = 5_000_000;

    /// <summary>Past days nobody computed yet that one person may ask for in an hour; as many may come at once after a quiet hour. A day
    /// that is kept costs nothing.</summary>
    [Range(1, 10_000)] public int NewDaysPerHour { get; init; } = 60;

    /// <summary>How far the infants of a list are counted unless somebody asks for all: counting costs what is counted, and nobody pages
    /// through so many.</summary>
    [Range(1, 1_000_000)] public int CountedTo { get; init; } = 10_000;

    /// <summary>Searches one person may make in a minute; as many may come at once after a quiet one.</summary>
    [Range(1, 100_000)] public int SearchesPerMinute { get; init; } = 40;
}
