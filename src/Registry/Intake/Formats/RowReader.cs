using System.IO.Compression;
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
    public static async Task<RowReader> OpenAsync(FileReading read, Stream bytes, TimeZoneInfo zone, Fhir.KnownPatients patients,
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
