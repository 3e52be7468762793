using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using Registry.Platform.Csv;
using Registry.Rules.Facts;

namespace Registry.Demo;

/// <summary>Writes reports in the formats of the intake (docs/intake).</summary>
internal static class WriteFile
{
    private static readonly JsonSerializerOptions AsWritten = new() { Encoder = JavaScriptEncoder.UnsafeRelaxedJsonEscaping };

    /// <summary>RFC 4180 with a header; only the columns some row states.</summary>
    public static byte[] Csv(IReadOnlyList<Report> rows)
    {
        var columns = new Dictionary<string, int> { ["kind"] = 0 };
        foreach (var row in rows)
            foreach (var (column, _) in row.Values) columns.TryAdd(column, columns.Count);
        return Encoding.UTF8.GetBytes(WriteCsv.Text(rows.Select(Cells).Prepend([.. columns.Keys])));

        object?[] Cells(Report row)
        {
            var cells = new object?[columns.Count];
            cells[0] = Codes.Of(row.Kind);
            foreach (var (column, value) in row.Values) cells[columns[column]] = value;
            return cells;
        }
    }

    public static byte[] Json(IReadOnlyList<Report> rows) => JsonSerializer.SerializeToUtf8Bytes(new
    {
        rows = rows.Select(r => r.Values.Prepend(("kind", Codes.Of(r.Kind))).ToDictionary(v => v.Item1, v => v.Item2)),
    }, AsWritten);
}
