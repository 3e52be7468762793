using System.Globalization;
using Registry.Ui;

namespace Registry.Intake.Typing;

/// <summary>What the ward list says of an infant.</summary>
public static class WardWords
{
    private const string NoNumber = "No number";

    /// <summary>What an infant is called on the list: by its mother, as on a ward.</summary>
    public static string Called(WardRow row) => row.Mother.Length > 0 ? row.Mother : row.RecordNumber ?? NoNumber;

    public static string Child(WardRow row) => string.Join(" · ", new[]
    {
        row.Name.Length > 0 ? $"child {row.Name}" : null, row.RecordNumber, row.Hours is null ? null : $"born {Words.Date(row.BornOn)}",
    }.OfType<string>());

    public static string Age(WardRow row) => row.Hours switch
    {
        null => $"born {Words.Date(row.BornOn)}, time not reported",
        < 72 and { } hours => $"{Words.Count(Math.Max(0, hours), "hour")} old",
        { } hours => $"{Words.Count(hours / 24, "day")} old",
    };

    /// <summary>From when a test is no longer too early by the policy; null when it is not.</summary>
    public static string? Early(WardRow row) => (row.AbrFrom, row.OaeFrom) switch
    {
        (null, null) => null,
        ({ } abr, { } oae) => $"Better later: ABR after {Time(abr)}, OAE after {Time(oae)}",
        (_, { } oae) => $"OAE better after {Time(oae)}",
        ({ } abr, _) => $"ABR better after {Time(abr)}",
    };

    private static string Time(DateTime at) => at.ToString("ddd HH:mm", CultureInfo.InvariantCulture);
}
