using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
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
        var text = new StringBuilder().AppendJoin(',', columns.Keys).Append("\r\n");
        var cells = new string?[columns.Count];
        foreach (var row in rows)
        {
            Array.Clear(cells);
            cells[0] = Codes.Of(row.Kind);
            foreach (var (column, value) in row.Values) cells[columns[column]] = Cell(value);
            text.AppendJoin(',', cells).Append("\r\n");
        }

        return Encoding.UTF8.GetBytes(text.ToString());
    }

    public static byte[] Json(IReadOnlyList<Report> rows) => JsonSerializer.SerializeToUtf8Bytes(new
    {
        rows = rows.Select(r => r.Values.Prepend(("kind", Codes.Of(r.Kind))).ToDictionary(v => v.Item1, v => v.Item2)),
    }, AsWritten);

    private static string Cell(string value) =>
        value.AsSpan().IndexOfAny(",\"\r\n") < 0 ? value : $"\"{value.Replace("\"", "\"\"", StringComparison.Ordinal)}\"";
}
