using System.Globalization;
using nietras.SeparatedValues;

namespace Registry.Platform.Csv;

/// <summary>A short file of an administrator (places, people), read whole. Rows of infants have their own way in, the intake.</summary>
public static class ReadCsv
{
    public const int MostRows = 2_000;
    public const int MostCharacters = 1_000_000;

    /// <summary>The rows of a text by the names of its columns, each with its line; blank lines are skipped.</summary>
    /// <returns>Null when it is no table of these columns; the reason says why.</returns>
    public static IReadOnlyList<CsvLine>? Rows(string text, IReadOnlyCollection<string> columns, out string? reason)
    {
        reason = null;
        if (text.Length > MostCharacters) return Not($"The file is longer than {MostCharacters:#,0} characters.", out reason);
        try
        {
            using var reader = Sep.New(',').Reader(o => o with { Unescape = true, DisableColCountCheck = true })
                .FromText(text.TrimStart('\uFEFF', ' ', '\r', '\n'));
            var names = reader.Header.ColNames.Select(n => n.Trim().ToLowerInvariant()).ToList();
            if (names.FirstOrDefault(n => !columns.Contains(n)) is { } unknown)
                return Not($"There is no column '{Shown(unknown)}'. Columns are: {string.Join(", ", columns)}.", out reason);
            if (names.Distinct().Count() != names.Count) return Not("A column is named twice.", out reason);
            var rows = new List<CsvLine>();
            foreach (var row in reader)
            {
                if (row.Span.Trim().IsEmpty) continue;
                if (rows.Count == MostRows) return Not($"At most {MostRows:#,0} rows.", out reason);
                if (row.ColCount != names.Count)
                    return Not($"Line {row.LineNumberFrom.ToString(CultureInfo.InvariantCulture)} has {row.ColCount} cells, the header "
                        + $"{names.Count}.", out reason);
                var cells = new Dictionary<string, string>();
                for (var i = 0; i < names.Count; i++) cells[names[i]] = row[i].ToString().Trim();
                rows.Add(new(row.LineNumberFrom, cells));
            }

            return rows.Count == 0 ? Not("There are no rows under the header.", out reason) : rows;
        }
        catch (Exception e) when (e is InvalidDataException or ArgumentException or NotSupportedException)
        {
            return Not("This is no comma-separated table with a header row.", out reason);
        }
    }

    private static IReadOnlyList<CsvLine>? Not(string why, out string? reason)
    {
        reason = why;
        return null;
    }

    private static string Shown(string name) => name.Length > 40 ? name[..40] : name;
}

/// <summary>One row.</summary>
/// <param name="Number">Its line in the file, counted from 1.</param>
/// <param name="Cells">By column; a column the file lacks is empty.</param>
public sealed record CsvLine(int Number, IReadOnlyDictionary<string, string> Cells)
{
    public string this[string column] => Cells.GetValueOrDefault(column, "");
}
