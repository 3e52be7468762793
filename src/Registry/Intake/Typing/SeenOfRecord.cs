using System.Globalization;
using Registry.Infants.Record;

namespace Registry.Intake.Typing;

/// <summary>What was known of an infant when a form was opened, as the form carries it: what is recorded later is news to it.</summary>
public static class SeenOfRecord
{
    /// <summary>How much was known: when the last was said or closed, and how much it is.</summary>
    public static string Of(OpenedRecord? record) => record is null ? "" : string.Create(CultureInfo.InvariantCulture,
        $"{record.TimeLine.Select(TicksOf).DefaultIfEmpty().Max()}-{record.TimeLine.Count}");

    /// <summary>Whether something was recorded since: since a list was made, later than it; since a form was opened, anything else than
    /// what it began with.</summary>
    public static bool IsNews(OpenedRecord? record, string? seen) =>
        seen is { Length: > 0 } && !seen.Contains('-', StringComparison.Ordinal) ? record is not null && Since(record, seen).Any()
        : (seen ?? "") != Of(record);

    /// <summary>What was said or closed since.</summary>
    public static IEnumerable<TimeLineEntry> Since(OpenedRecord record, string? seen)
    {
        var until = long.TryParse(seen?.Split('-')[0], NumberStyles.None, CultureInfo.InvariantCulture, out var ticks) ? ticks : 0;
        return record.TimeLine.Where(e => TicksOf(e) > until);
    }

    private static long TicksOf(TimeLineEntry entry) => (entry.SupersededAt ?? entry.Said.RecordedAt).UtcTicks;
}
