using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Mvc;

namespace Registry.Ui;

/// <summary>A CSV download, streamed (RFC 4180, UTF-8 with a byte-order mark so that spreadsheets read it as such).
/// A text that a spreadsheet would take for a formula is sent with an apostrophe in front.</summary>
public sealed class CsvResult : FileResult
{
    private readonly string[] _headers;
    private readonly IAsyncEnumerable<object?[]> _rows;

    public CsvResult(string fileName, string[] headers, IAsyncEnumerable<object?[]> rows) : base("text/csv; charset=utf-8")
    {
        FileDownloadName = fileName;
        _headers = headers;
        _rows = rows;
    }

    public override async Task ExecuteResultAsync(ActionContext context)
    {
        var response = context.HttpContext.Response;
        response.ContentType = ContentType;
        response.Headers.ContentDisposition = $"attachment; filename=\"{FileDownloadName}\"";
        await using var writer = new StreamWriter(response.Body, new UTF8Encoding(encoderShouldEmitUTF8Identifier: true));
        await writer.WriteAsync(Line(_headers));
        await foreach (var row in _rows.WithCancellation(context.HttpContext.RequestAborted)) await writer.WriteAsync(Line(row));
    }

    /// <summary>One line, ended by CRLF.</summary>
    public static string Line(IEnumerable<object?> values) => string.Join(',', values.Select(Field)) + "\r\n";

    private static string Field(object? value)
    {
        var text = value switch
        {
            null => "",
            string s => s.Length > 0 && "=+-@\t\r".Contains(s[0]) ? "'" + s : s,
            DateOnly date => date.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
            Enum code => Words.Code(code),
            IFormattable number => number.ToString(null, CultureInfo.InvariantCulture),
            _ => value.ToString() ?? "",
        };
        return text.AsSpan().ContainsAny("\",\r\n") ? $"\"{text.Replace("\"", "\"\"", StringComparison.Ordinal)}\"" : text;
    }
}
