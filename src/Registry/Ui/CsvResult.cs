using System.Text;
using Microsoft.AspNetCore.Mvc;
using Registry.Platform.Csv;

namespace Registry.Ui;

/// <summary>A CSV download, streamed: <see cref="WriteCsv"/> in UTF-8, with a byte-order mark so that spreadsheets read it as such, and
/// lines ended by CRLF.</summary>
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
        var (response, ct) = (context.HttpContext.Response, context.HttpContext.RequestAborted);
        response.ContentType = ContentType;
        response.Headers.ContentDisposition = $"attachment; filename=\"{FileDownloadName}\"";
        var encoding = new UTF8Encoding(encoderShouldEmitUTF8Identifier: true);
        await using var writer = new StreamWriter(response.Body, encoding) { NewLine = "\r\n" };
        await using var csv = new WriteCsv(writer);
        await csv.RowAsync(_headers, ct);
        await foreach (var row in _rows.WithCancellation(ct)) await csv.RowAsync(Array.ConvertAll(row, Coded), ct);
    }

    private static object? Coded(object? cell) => cell is Enum code ? Words.Code(code) : cell;
}
