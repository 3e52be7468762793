using System.IO.Compression;
using nietras.SeparatedValues;
using Registry.Intake.Formats.Workbooks;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>Reads the rows of one submission into batches.</summary>
public abstract class RowReader : IDisposable
{
    /// <summary>Fills the emptied batch; false when there was no further row.</summary>
    public abstract ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct);
    public abstract void Dispose();

    /// <summary>All rows are applied, or none.</summary>
    public virtual bool AllOrNothing => false;

    /// <param name="read">How the bytes become rows.</param>
    /// <param name="bytes">The bytes as they were sent; a workbook's can be read from any position.</param>
    /// <param name="zone">The program's time zone.</param>
    /// <param name="patients">Answers who a FHIR reference speaks of.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task<RowReader> OpenAsync(HowToRead read, Stream bytes, TimeZoneInfo zone, Fhir.KnownPatients patients,
        CancellationToken ct)
    {
        var text = read.Gzip ? new GZipStream(bytes, CompressionMode.Decompress) : bytes;
        return read.Format switch
        {
            SubmissionFormat.Csv => await ReadCsvRows.OpenAsync(text, read, ct),
            SubmissionFormat.Xlsx => await ReadXlsxRows.OpenAsync(bytes, read, ct),
            SubmissionFormat.Hl7V2 => new Hl7V2.ReadHl7V2Rows(bytes, zone),
            SubmissionFormat.Fhir => await Fhir.ReadFhirRows.OpenAsync(bytes, zone, patients, ct),
            SubmissionFormat.FixedWidth => new ReadFixedWidthRows(text, read),
            _ => new ReadJsonRows(text, read.Format, read.DefaultKind),
        };
    }
}

/// <summary>CSV by RFC 4180 with a header row. The file passed <see cref="InspectCsv"/>, so its structure is sound.</summary>
public sealed class ReadCsvRows : RowReader
{
    private readonly SepReader _reader;
    private readonly PlaceCells _place;
    private readonly CellOf _cell;
    private int _number;

    private ReadCsvRows(SepReader reader, HowToRead read)
    {
        _reader = reader;
        _place = new PlaceCells([.. reader.Header.ColNames.Select(InspectCsv.NameOf)], read);
        _cell = column => _reader.Current[column].Span;
    }

    public static async Task<RowReader> OpenAsync(Stream text, HowToRead read, CancellationToken ct)
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
