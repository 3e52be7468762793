using nietras.SeparatedValues;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake;

/// <summary>Reads the rows of one submission into batches.</summary>
public abstract class RowReader : IDisposable
{
    /// <summary>Fills the emptied batch; false when there was no further row.</summary>
    public abstract ValueTask<bool> FillAsync(RowBatch batch, CancellationToken ct);
    public abstract void Dispose();

    /// <summary>All rows are applied, or none.</summary>
    public virtual bool AllOrNothing => false;

    public static async Task<RowReader> OpenAsync(
        SubmissionFormat format, RowKind? defaultKind, Stream bytes, TimeZoneInfo zone, Fhir.KnownPatients patients, CancellationToken ct) =>
        format switch
        {
            SubmissionFormat.Csv => await ReadCsvRows.OpenAsync(bytes, defaultKind, ct),
            SubmissionFormat.Hl7V2 => new V2.ReadV2Rows(bytes, zone),
            SubmissionFormat.Fhir => await Fhir.ReadFhirRows.OpenAsync(bytes, zone, patients, ct),
            _ => new ReadJsonRows(bytes, format, defaultKind),
        };
}

/// <summary>CSV by RFC 4180 with a header row. The file passed <see cref="InspectCsv"/>, so its structure is sound.</summary>
public sealed class ReadCsvRows : RowReader
{
    private readonly SepReader _reader;
    private readonly Field[] _columns;
    private readonly string? _defaultKind;
    private int _number;

    private ReadCsvRows(SepReader reader, RowKind? defaultKind)
    {
        _reader = reader;
        _columns = [.. reader.Header.ColNames.Select(n => Codes.Parse<Field>(InspectCsv.NameOf(n)))];
        _defaultKind = defaultKind is { } kind ? Codes.Of(kind) : null;
    }

    public static async Task<RowReader> OpenAsync(Stream bytes, RowKind? defaultKind, CancellationToken ct)
    {
        var options = Sep.New(',').Reader(o => o with { Unescape = true, DisableColCountCheck = true });
        return new ReadCsvRows(await options.FromAsync(new StreamReader(bytes, System.Text.Encoding.UTF8), ct), defaultKind);
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
        if (_defaultKind is not null) batch.Set(Field.Kind, _defaultKind);
        for (var i = 0; i < _columns.Length; i++) batch.Set(_columns[i], row[i].Span);
    }

    public override void Dispose() => _reader.Dispose();
}
