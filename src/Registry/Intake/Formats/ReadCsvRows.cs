using nietras.SeparatedValues;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>CSV by RFC 4180 with a header row. The file passed <see cref="InspectCsv"/>, so its structure is sound.</summary>
public sealed class ReadCsvRows : RowReader
{
    private readonly SepReader _reader;
    private readonly PlaceCells _place;
    private readonly CellOf _cell;
    private int _number;

    private ReadCsvRows(SepReader reader, FileReading read)
    {
        _reader = reader;
        _place = new PlaceCells([.. reader.Header.ColNames.Select(InspectCsv.NameOf)], read);
        _cell = column => _reader.Current[column].Span;
    }

    public static async Task<RowReader> OpenAsync(Stream text, FileReading read, CancellationToken ct)
    {
        var options = Sep.New(',').Reader(o => o with { Unescape = true, DisableColCountCheck = true });
        return new ReadCsvRows(await options.FromAsync(new StreamReader(text, DetectEncoding.Of(read.Encoding ?? TextEncoding.Utf8)), ct),
            read);
    }

    public override async ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct)
    {
        batch.Clear();
        while (!batch.IsFull && await _reader.MoveNextAsync(ct)) Add(batch);
        return batch.Count > 0;
    }

    private void Add(RowBatch batch)
    {
        var row = _reader.Current;
        if (row.Span.IsEmpty) return; // a blank line is not a row
        batch.Add(++_number, row.LineNumberFrom);
        _place.Place(batch, _cell);
    }

    public override void Dispose() => _reader.Dispose();
}
