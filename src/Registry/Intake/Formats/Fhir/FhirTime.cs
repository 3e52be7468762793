using System.Globalization;
using Hl7.Fhir.Model;

namespace Registry.Intake.Formats.Fhir;

/// <summary>FHIR dates and instants as our columns state them: local to the region, without offset.</summary>
public static class FhirTime
{
    public static string Iso(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);

    /// <summary>A day: the date as written, or the region's day of an instant. Null: a year or month only, or unreadable.</summary>
    public static DateOnly? Day(string? text, TimeZoneInfo zone)
    {
        if (text is null) return null;
        if (DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day)) return day;
        return Local(text, zone) is { } local ? DateOnly.FromDateTime(local) : null;
    }

    /// <summary>The region's time of an instant; null when no time of day is stated.</summary>
    public static DateTime? Local(string? text, TimeZoneInfo zone)
    {
        if (text is null || !text.Contains('T', StringComparison.Ordinal)) return null;
        return DateTimeOffset.TryParse(text, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out var instant)
            && instant.UtcDateTime is { Year: > 1 and < 9999 } ? TimeZoneInfo.ConvertTime(instant, zone).DateTime : null;
    }

    /// <summary><c>yyyy-MM-ddTHH:mm[:ss]</c>; fractions of a second are cut.</summary>
    public static string Write(DateTime local) =>
        local.ToString(local.Second == 0 ? "yyyy-MM-ddTHH:mm" : "yyyy-MM-ddTHH:mm:ss", CultureInfo.InvariantCulture);

    /// <summary>The text of a date, an instant, or the start of a period.</summary>
    public static string? TextOf(DataType? value) => value switch
    {
        FhirDateTime time => time.Value,
        Instant { Value: { } instant } => instant.ToString("O", CultureInfo.InvariantCulture),
        Period period => period.Start,
        _ => null,
    };
}
