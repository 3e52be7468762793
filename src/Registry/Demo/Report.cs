using System.Globalization;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Demo;

/// <summary>One row a place will report: what happened and when. Values are already the text of the file.</summary>
public sealed record Report(string SiteCode, RowKind Kind, DateTime HappenedAt, IReadOnlyList<(string Column, string Value)> Values)
{
    public static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
    public static string Moment(DateTime at) => at.ToString("yyyy-MM-ddTHH:mm", CultureInfo.InvariantCulture);
    public static string Code<T>(T value) where T : struct, Enum => Codes.Of(value);
}
