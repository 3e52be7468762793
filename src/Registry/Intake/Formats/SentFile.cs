using Npgsql;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Intake.Formats;

/// <summary>Who sent it: a site's system by its key, or a signed-in person, in the role they were signed in as.</summary>
public readonly record struct ReceivedBy(Guid? SiteKeyId, Guid? PersonId, Role? As = null);

/// <summary>What is stated with a submission's bytes: who sends what, and how it is to be read.</summary>
/// <param name="SiteId">The site that sends.</param>
/// <param name="Format">How the bytes are to be read.</param>
/// <param name="By">Who sent them.</param>
/// <param name="ReceivedAt">When we received them: "known when" of every fact in them.</param>
public sealed record SentFile(SiteId SiteId, SubmissionFormat Format, ReceivedBy By, DateTimeOffset ReceivedAt)
{
    /// <summary>What every row reports, for files without a kind column.</summary>
    public RowKind? DefaultKind { get; init; }

    /// <summary>What the sender calls the file.</summary>
    public string? FileName { get; init; }

    /// <summary>The sender's key for this submission, unique within the site.</summary>
    public string? IdempotencyKey { get; init; }

    /// <summary>The bytes are a gzip stream of the file.</summary>
    public bool Gzip { get; init; }

    /// <summary>The encoding the sender states; null to detect it.</summary>
    public TextEncoding? Encoding { get; init; }

    /// <summary>The sheet of a workbook; null for the first.</summary>
    public string? Sheet { get; init; }

    /// <summary>Name of the column mapping; null to find one by the header where the columns are not ours.</summary>
    public string? Mapping { get; init; }
}

/// <summary>How the bytes of a submission become rows: decided when it is received, remembered with it.</summary>
public sealed record FileReading(SubmissionFormat Format, RowKind? DefaultKind)
{
    public bool Gzip { get; init; }

    /// <summary>Null for a workbook.</summary>
    public TextEncoding? Encoding { get; init; }
    public string? Sheet { get; init; }
    public SavedMapping? Mapping { get; init; }

    /// <summary>The column its sheet is encrypted for.</summary>
    internal const string SheetColumn = "submissions.sheet";

    /// <summary>Reads five columns of a submission's row: format, default kind, gzip, encoding, sheet.</summary>
    internal static FileReading Read(NpgsqlDataReader r, int from) => new(r.Code<SubmissionFormat>(from), r.CodeOrNull<RowKind>(from + 1))
    {
        Gzip = r.GetBoolean(from + 2),
        Encoding = r.CodeOrNull<TextEncoding>(from + 3),
        Sheet = FieldKeys.OfProcess.Decrypt(r.TextOrNull(from + 4), SheetColumn),
    };
}
