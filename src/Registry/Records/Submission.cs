namespace Registry.Records;

public enum SubmissionFormat
{
    Csv, Json, Ndjson, Hl7V2, Fhir, Xlsx, FixedWidth,

    /// <summary>By a person on a page: rows as JSON.</summary>
    Typed,
}

/// <summary>How the characters of a text file are encoded.</summary>
public enum TextEncoding { Utf8, Utf16Le, Utf16Be, Windows1252 }

/// <summary>
/// <c>Received</c>: the raw bytes are committed, nothing applied yet. <c>Processing</c>: some rows are committed.
/// <c>Done</c>: every row has its outcome. <c>Refused</c>: the file as a whole could not be read; no row was applied.
/// </summary>
public enum SubmissionState { Received, Processing, Done, Refused }

/// <summary>What one site sent, once. The row state is the truth: a job is only a nudge.</summary>
public sealed class Submission
{
    public SubmissionId Id { get; init; }
    public SiteId SiteId { get; init; }
    public SubmissionFormat Format { get; init; }
    public SubmissionState State { get; set; }

    /// <summary>What every row reports, when the file itself does not say.</summary>
    public RowKind? DefaultKind { get; init; }
    public DateTimeOffset ReceivedAt { get; init; }

    /// <summary>Who sent it: a site key or a signed-in person.</summary>
    public Guid? SiteKeyId { get; init; }
    public Guid? PersonId { get; init; }

    /// <summary>The role the person sent it in: the region's own people send what they say of a family in a site's name.</summary>
    public Role? SentAs { get; init; }
    public string? IdempotencyKey { get; init; }

    /// <summary>What the sender calls the file, encrypted: it may name somebody.</summary>
    public string? FileName { get; init; }

    /// <summary>The bytes are a gzip stream (RFC 1952) of the file.</summary>
    public bool Gzip { get; init; }

    /// <summary>How a text file was read: as stated by the sender, else as detected. Null for a workbook.</summary>
    public TextEncoding? Encoding { get; init; }

    /// <summary>The sheet of a workbook that was asked for, encrypted like the file's name; null for the first.</summary>
    public string? Sheet { get; init; }

    /// <summary>The version of the column mapping the rows were read with; null when the file has our own columns.</summary>
    public Guid? MappingVersionId { get; init; }

    /// <summary>SHA-256 of the raw bytes, and their number.</summary>
    public required byte[] Sha256 { get; init; }
    public long ByteCount { get; init; }

    /// <summary>Rows the file holds; rows whose outcome is committed (processing resumes after it).</summary>
    public int RowCount { get; set; }
    public int RowsDone { get; set; }
    public int Accepted { get; set; }
    public int Unchanged { get; set; }
    public int Rejected { get; set; }
    public int Held { get; set; }
    public int StillWaiting { get; set; }

    /// <summary>Why the whole file was refused: JSON list of row, field, reason.</summary>
    public string? Refusal { get; set; }
    public DateTimeOffset? FinishedAt { get; set; }
}

/// <summary>A slice of the raw bytes, in order. A trigger refuses update and delete.</summary>
public sealed class SubmissionChunk
{
    public SubmissionId SubmissionId { get; init; }
    public int Ordinal { get; init; }
    public required byte[] Bytes { get; init; }

    /// <summary>The key they are encrypted with; null: stored before there were keys.</summary>
    public string? KeyId { get; init; }
}

/// <summary>What became of a row. <c>StillWaiting</c>: its site sent it before, to the letter, and that row waits; this one does
/// not.</summary>
public enum RowOutcome { Accepted, Unchanged, Rejected, Held, StillWaiting }

/// <summary>The outcome of one row. Content is kept for held and rejected rows, so that they can be resolved or corrected.</summary>
public sealed class SubmissionRow
{
    /// <summary>The column a row's content is encrypted for, also where its history keeps it.</summary>
    public const string ContentColumn = "submission_rows.content";

    public SubmissionId SubmissionId { get; init; }

    /// <summary>1-based data row (the CSV header is not counted; the line number is in <see cref="Line"/>).</summary>
    public int RowNumber { get; init; }
    public int Line { get; init; }
    public RowKind? Kind { get; init; }
    public RowOutcome Outcome { get; set; }
    public InfantId? InfantId { get; set; }

    /// <summary>JSON list of { field, reason }, null when there is nothing to say. Never repeats a value.</summary>
    public string? Problems { get; set; }

    /// <summary>JSON object of the row's fields, encrypted, for held, rejected and leaning rows (<see cref="HeldRow.LeansOn"/>); after a
    /// correction, as corrected (<see cref="RowChange"/> keeps the rest).</summary>
    public string? Content { get; set; }

    /// <summary>The same for the same content: what rows sent again are found by.</summary>
    public string? ContentKey { get; set; }

    /// <summary>What it is found by that names somebody, though no infant is known: a card, a record number, a birth date with a
    /// mother.</summary>
    public string[]? IdentifierKeys { get; set; }

    /// <summary>Not to be used: a person said so, or the site sent it again. The row counts as rejected and waits for nobody.</summary>
    public DateTimeOffset? DiscardedAt { get; set; }

    /// <summary>Rejected as it was before: the row its site sent before waits, this one does not.</summary>
    public bool Repeated { get; init; }
}

/// <summary>What a person did with a held or rejected row.</summary>
public enum RowChangeKind
{
    /// <summary>Fields were changed, and the row was applied or waits anew.</summary>
    Corrected,

    /// <summary>Applied to the infant a person chose.</summary>
    Matched,

    /// <summary>A birth recorded as a new infant.</summary>
    MadeNew,

    /// <summary>Recorded beside what it contradicts: both happened.</summary>
    KeptBoth,

    /// <summary>Checked and matched again, and settled by the rules.</summary>
    AskedAgain,
    Discarded,

    /// <summary>An earlier change was undone.</summary>
    TakenBack,
}

/// <summary>One change a person made to a row, with the row as it was before: append-only, a trigger refuses anything else.</summary>
public sealed class RowChange
{
    public long Id { get; init; }
    public SubmissionId SubmissionId { get; init; }
    public int RowNumber { get; init; }
    public RowChangeKind Kind { get; init; }
    public DateTimeOffset At { get; init; }
    public Guid PersonId { get; init; }

    /// <summary>The change this one undoes.</summary>
    public long? TakesBack { get; init; }

    /// <summary>Made together with others.</summary>
    public Guid? BulkId { get; init; }

    /// <summary>JSON: <c>row</c> (submission_rows, its content encrypted) and <c>held</c> (held_rows, or null) as they were.</summary>
    public required string Before { get; init; }
}

/// <summary>Rows somebody chose to decide together, and what was decided. Kept whatever becomes of it.</summary>
public sealed class BulkDecision
{
    public Guid Id { get; init; }

    /// <summary>Whose rows they are; null: of several sites.</summary>
    public SiteId? SiteId { get; init; }
    public DateTimeOffset ChosenAt { get; init; }
    public Guid ChosenBy { get; init; }

    /// <summary>Null until decided.</summary>
    public RowChangeKind? Kind { get; set; }
    public DateTimeOffset? DecidedAt { get; set; }
    public Guid? DecidedBy { get; set; }

    /// <summary>Of a correction: the column, what it must state to be changed (null: anything; empty: nothing), and what it states
    /// then; the two values encrypted.</summary>
    public string? Field { get; set; }
    public string? FromValue { get; set; }
    public string? ToValue { get; set; }

    /// <summary>Of a match.</summary>
    public InfantId? InfantId { get; set; }
    public DateTimeOffset? UndoAskedAt { get; set; }
    public Guid? UndoAskedBy { get; set; }
}

/// <summary><c>Chosen</c>: waits for the decision or the worker. <c>Done</c>, <c>NotDone</c>: see the reason. <c>TakenBack</c>:
/// undone.</summary>
public enum BulkRowState { Chosen, Done, NotDone, TakenBack }

/// <summary>One row of a bulk decision. Its state is the truth; the job is a nudge.</summary>
public sealed class BulkRow
{
    public Guid BulkId { get; init; }
    public SubmissionId SubmissionId { get; init; }
    public int RowNumber { get; init; }

    /// <summary>Births come first: what rests on them follows.</summary>
    public int Ordinal { get; init; }
    public BulkRowState State { get; set; }

    /// <summary>The row's last change when it was chosen (0: none); a row changed since is left alone.</summary>
    public long Seen { get; init; }

    /// <summary>The change it made.</summary>
    public long? ChangeId { get; set; }

    /// <summary>Why it was not done, or could not be undone, in words that repeat no value.</summary>
    public string? Reason { get; set; }
}
