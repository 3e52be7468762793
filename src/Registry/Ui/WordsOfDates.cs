using System.Globalization;
using System.Text.RegularExpressions;
using Registry.Platform;

namespace Registry.Ui;

// One way to write a day, the region's; and languages by their names.
public static partial class Words
{
    /// <summary>The program's time zone, in which moments are shown; set once when the program starts.</summary>
    public static TimeZoneInfo Zone { get; set; } = TimeZoneInfo.Utc;

    /// <summary>How the region writes a day; set once when the program starts.</summary>
    public static DateOrder Order { get; set; }

    public static string Date(DateOnly? date) => Date(date, Order);

    /// <summary>In each order the month is a word, or the year comes first: 3 April is never read as 4 March.</summary>
    public static string Date(DateOnly? date, DateOrder order) => date?.ToString(Pattern(order), CultureInfo.InvariantCulture) ?? "—";

    public static string Time(DateTimeOffset? at) => at is { } moment ? Moment(TimeZoneInfo.ConvertTime(moment, Zone).DateTime) : "—";

    /// <summary>A moment as the clock of the place showed it.</summary>
    public static string Moment(DateTime at) =>
        $"{Date(DateOnly.FromDateTime(at))}, {at.ToString("HH:mm", CultureInfo.InvariantCulture)}";

    /// <summary>A sentence of the rules, which say a day as 2026-03-31, with its days as the region writes them.</summary>
    public static string InText(string text) => IsoDay().Replace(text, day => DateOnly.TryParseExact(
        day.Value, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var on) ? Date(on) : day.Value);

    /// <summary>A language by its name, where its code is one of ISO 639; else as it was reported.</summary>
    public static string? Language(string? code) => Languages.NameOf(code);

    private static string Pattern(DateOrder order) => order switch
    {
        DateOrder.MonthFirst => "MMM d, yyyy",
        DateOrder.YearFirst => "yyyy-MM-dd",
        _ => "d MMM yyyy",
    };

    [GeneratedRegex(@"\b\d{4}-\d{2}-\d{2}\b")]
    private static partial Regex IsoDay();
}
