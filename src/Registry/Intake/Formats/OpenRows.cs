using System.IO.Compression;
using Registry.Intake.Formats.Workbooks;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>The formats: how a file of each is inspected when it is received, and how its rows are read when they are applied. A workbook
/// is inspected where it is stored (<see cref="InspectFile"/>).</summary>
public static class OpenRows
{
    public static InspectSubmission ToInspect(SubmissionFormat format, RowKind? defaultKind) => format switch
    {
        SubmissionFormat.Csv => new InspectCsv(defaultKind),
        SubmissionFormat.Hl7V2 => new Hl7V2.InspectHl7V2(),
        SubmissionFormat.Fhir => new Fhir.InspectFhir(),
        SubmissionFormat.FixedWidth => new InspectFixedWidth(),
        _ => new InspectJson(format),
    };

    /// <param name="read">How the bytes become rows.</param>
    /// <param name="bytes">The bytes as they were sent; a workbook's can be read from any position.</param>
    /// <param name="zone">The program's time zone.</param>
    /// <param name="patients">Answers who a FHIR reference speaks of.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task<RowReader> ToReadAsync(
        FileReading read, Stream bytes, TimeZoneInfo zone, Fhir.KnownPatients patients, CancellationToken ct)
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
