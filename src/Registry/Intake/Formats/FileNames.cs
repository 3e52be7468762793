using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>What the name of a file says of its format.</summary>
public static class FileNames
{
    /// <returns>Null when it says nothing we know.</returns>
    public static (SubmissionFormat Format, bool Gzip)? FormatOf(string fileName)
    {
        var gzip = fileName.EndsWith(".gz", StringComparison.OrdinalIgnoreCase);
        SubmissionFormat? format = Path.GetExtension(gzip ? fileName[..^3] : fileName).ToLowerInvariant() switch
        {
            ".csv" or ".txt" => SubmissionFormat.Csv,
            ".json" => SubmissionFormat.Json,
            ".ndjson" or ".jsonl" => SubmissionFormat.Ndjson,
            ".fwf" => SubmissionFormat.FixedWidth,
            ".xlsx" when !gzip => SubmissionFormat.Xlsx,
            ".hl7" when !gzip => SubmissionFormat.Hl7V2,
            _ => null,
        };
        return format is { } known ? (known, gzip) : null;
    }
}
