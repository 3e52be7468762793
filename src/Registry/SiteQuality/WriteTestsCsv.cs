using System.Globalization;
using Registry.Platform.Csv;
using Registry.Rules.Facts;

namespace Registry.SiteQuality;

/// <summary>A list of tests as CSV.</summary>
public static class WriteTestsCsv
{
    private static readonly string[] Header =
    [
        "infant", "performed_at", "ear", "method", "outcome", "reason", "instrument", "probe", "screener", "age_hours", "criterion",
        "received_at",
    ];

    public static string Of(IEnumerable<TestLine> lines) =>
        WriteCsv.Text(lines.Select(Row).Prepend(Header));

    private static object?[] Row(TestLine line) =>
    [
        line.InfantId.ToString(), line.Method is null ? Day(line.PerformedAt) : Minute(line.PerformedAt),
        Code(line.Ear), Code(line.Method), Code(line.Outcome),
        Codes.Of(line.Reason), line.Instrument, line.Probe, line.Screener, line.AgeHours?.ToString("0.0", CultureInfo.InvariantCulture),
        line.Criterion is { } c ? Codes.Of(c.Finding) : null, Minute(line.ReceivedAt),
    ];

    private static string? Code<T>(T? value) where T : struct, Enum => value is { } known ? Codes.Of(known) : null;

    /// <summary>An evaluation's time of day is not reported.</summary>
    private static string Day(DateTime at) => at.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    private static string Minute(DateTime at) => at.ToString("yyyy-MM-ddTHH:mm", CultureInfo.InvariantCulture);
}
