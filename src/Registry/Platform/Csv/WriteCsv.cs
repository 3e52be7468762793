using System.Globalization;
using nietras.SeparatedValues;

namespace Registry.Platform.Csv;

/// <summary>A cell whose text is a number's, a date's or a code's: it is written as it is.</summary>
public readonly record struct PlainCell(string Text);

/// <summary>
/// The one way a CSV file is written (RFC 4180): commas between the cells, quotes where a cell needs them. Numbers and dates are written as
/// everywhere; a text that a spreadsheet would run has an apostrophe in front (<see cref="Formula"/>). Encoding and line ends are the
/// receiver's; every row has as many cells as the first.
/// </summary>
/// <remarks>Rows gather in memory before they go on: the writer of the library writes at once, which a response does not allow.</remarks>
public sealed class WriteCsv : IAsyncDisposable
{
    private const int Gathered = 1 << 15;

    private readonly TextWriter _to;
    private readonly StringWriter _rows;
    private readonly SepWriter _writer;

    public WriteCsv(TextWriter to)
    {
        (_to, _rows) = (to, new(CultureInfo.InvariantCulture) { NewLine = to.NewLine });
        _writer = Sep.New(',').Writer(o => o with { Escape = true, WriteHeader = false }).To(_rows, leaveOpen: true);
    }

    /// <summary>A whole file, lines ended by CRLF.</summary>
    public static string Text(IEnumerable<object?[]> rows)
    {
        var csv = new WriteCsv(new StringWriter(CultureInfo.InvariantCulture) { NewLine = "\r\n" });
        foreach (var row in rows) csv.Gather(row);
        csv._writer.Dispose();
        return csv._rows.ToString();
    }

    /// <summary>Writes one row, some time before it is disposed of.</summary>
    public ValueTask RowAsync(ReadOnlySpan<object?> cells, CancellationToken ct)
    {
        Gather(cells);
        return _rows.GetStringBuilder().Length < Gathered ? ValueTask.CompletedTask : SendAsync(ct);
    }

    /// <summary>Writes what is left. The receiver stays open.</summary>
    public async ValueTask DisposeAsync()
    {
        _writer.Dispose();
        await SendAsync(CancellationToken.None);
    }

    private void Gather(ReadOnlySpan<object?> cells)
    {
        using var row = _writer.NewRow();
        for (var i = 0; i < cells.Length; i++) row[i].Set(Spelled(cells[i]));
    }

    private async ValueTask SendAsync(CancellationToken ct)
    {
        var text = _rows.GetStringBuilder();
        await _to.WriteAsync(text, ct);
        text.Clear();
    }

    private static string Spelled(object? cell) => cell switch
    {
        null => "",
        string text => Formula.Guarded(text),
        PlainCell plain => plain.Text,
        DateOnly date => date.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture),
        IFormattable number => number.ToString(null, CultureInfo.InvariantCulture),
        _ => Formula.Guarded(cell.ToString() ?? ""),
    };
}
