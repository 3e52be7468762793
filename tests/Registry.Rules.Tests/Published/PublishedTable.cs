using System.Globalization;

namespace Registry.Rules.Tests.Published;

/// <summary>Reads a table of this folder: <c>#</c> lines name its source, the first other line its columns. No quoting: these are
/// numbers.</summary>
public static class PublishedTable
{
    public static IReadOnlyList<IReadOnlyDictionary<string, string>> Read(string name)
    {
        var lines = File.ReadLines(Path.Combine(AppContext.BaseDirectory, "Published", name)).Where(l => l.Length > 0 && l[0] != '#')
            .ToList();
        var columns = lines[0].Split(',');
        return [.. lines.Skip(1).Select(line =>
        {
            var values = line.Split(',');
            return values.Length == columns.Length
                ? (IReadOnlyDictionary<string, string>)columns.Zip(values).ToDictionary(p => p.First, p => p.Second)
                : throw new FormatException($"{name}: '{line}' has {values.Length} values for {columns.Length} columns.");
        })];
    }

    public static long Whole(this IReadOnlyDictionary<string, string> row, string column) =>
        long.Parse(row[column], CultureInfo.InvariantCulture);
    public static double Number(this IReadOnlyDictionary<string, string> row, string column) =>
        double.Parse(row[column], CultureInfo.InvariantCulture);
    public static decimal Exact(this IReadOnlyDictionary<string, string> row, string column) =>
        decimal.Parse(row[column], CultureInfo.InvariantCulture);
}
