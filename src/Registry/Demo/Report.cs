using System.Globalization;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Demo;

/// <summary>One row a place will report, from <paramref name="KnownAt"/> on. Values are already the text of the file.</summary>
internal sealed record Report(Place Place, RowKind Kind, DateTime KnownAt, IReadOnlyList<(string Column, string Value)> Values)
{
    public static string Day(DateOnly day) => day.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture);
    public static string Day(DateTime at) => Day(DateOnly.FromDateTime(at));
    public static string Moment(DateTime at) => at.ToString("yyyy-MM-ddTHH:mm", CultureInfo.InvariantCulture);
    public static string Number(int value) => value.ToString(CultureInfo.InvariantCulture);
    public static string Code<T>(T value) where T : struct, Enum => Codes.Of(value);

    /// <summary>The row again with one value changed.</summary>
    public Report With(string column, string value) =>
        this with { Values = [.. Values.Select(v => v.Column == column ? (column, value) : v)] };

    /// <summary>The row again without some of its values.</summary>
    public Report Without(params string[] columns) => this with { Values = [.. Values.Where(v => !columns.Contains(v.Column))] };

    public string? this[string column] => Values.FirstOrDefault(v => v.Column == column).Value;
}
