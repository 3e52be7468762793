using System.Globalization;

namespace Registry.Platform;

/// <summary>A day somebody asks about, in a query: ISO 8601, of a year in which anything can have happened. A day at the ends of the
/// calendar has no day before or after it to reckon with.</summary>
public static class AskedDay
{
    private const int FirstYear = 1900;
    private const int LastYear = 2199;

    public static bool TryRead(string? text, out DateOnly day, string form = "yyyy-MM-dd") =>
        DateOnly.TryParseExact(text, form, CultureInfo.InvariantCulture, DateTimeStyles.None, out day)
        && day.Year is >= FirstYear and <= LastYear;

    /// <returns>Null when it is none.</returns>
    public static DateOnly? Read(string? text) => TryRead(text, out var day) ? day : null;

    /// <summary>A moment of a year in which anything can have happened.</summary>
    public static bool IsWithin(DateTimeOffset moment) => moment.UtcDateTime.Year is >= FirstYear and <= LastYear;
}
