using System.Globalization;
using Registry.Facts;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>Who a record is about, in words.</summary>
public static class RecordWords
{
    /// <summary>Above it an age is told in months, above two years in years.</summary>
    private const int MostDays = 90;

    public static string Born(ReportedBirth birth, DateOnly day)
    {
        var at = birth.BornAt?.ToString(", HH:mm", CultureInfo.InvariantCulture);
        return $"{Age(birth.BornOn, day)}, born {Words.Date(birth.BornOn)}{at}";
    }

    public static string Mother(ReportedBirth? birth) => $"{birth?.MotherGivenName} {birth?.MotherFamilyName}".Trim();

    /// <summary>"3 days old", "7 months old": whole ones.</summary>
    public static string Age(DateOnly born, DateOnly day)
    {
        var days = day.DayNumber - born.DayNumber;
        if (days < 0) return "Not yet born";
        if (days < MostDays) return $"{Words.Count(days, "day")} old";
        var months = (day.Year - born.Year) * 12 + day.Month - born.Month - (day.Day < born.Day ? 1 : 0);
        return months < 24 ? $"{Words.Count(months, "month")} old" : $"{Words.Count(months / 12, "year")} old";
    }
}
