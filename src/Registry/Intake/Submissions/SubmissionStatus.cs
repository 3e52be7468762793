using System.Text.Json.Serialization;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Submissions;

/// <summary>The state of a submission. Counts are rows by outcome; they grow while it is processed.</summary>
public sealed record SubmissionStatus
{
    public required Guid Id { get; init; }
    public required string State { get; init; }
    public required int Rows { get; init; }
    public required int RowsDone { get; init; }
    public required int Accepted { get; init; }
    public required int Unchanged { get; init; }
    public required int Rejected { get; init; }
    public required int Held { get; init; }

    /// <summary>Sent before to the letter, and that row waits: these do not wait once more.</summary>
    public required int StillWaiting { get; init; }
    public required DateTimeOffset ReceivedAt { get; init; }
    public required DateTimeOffset? FinishedAt { get; init; }
    public required long Bytes { get; init; }
    public required string Sha256 { get; init; }
    public required IReadOnlyList<FileProblem> Errors { get; init; }

    /// <summary>How the text was read: as stated, else as detected. Null for a workbook, a message, a refused file.</summary>
    public string? Encoding => Read.Encoding is { } encoding ? Codes.Of(encoding) : null;

    /// <summary>The column mapping the file was read with, and its version; null when the columns are ours.</summary>
    public string? Mapping { get; init; }

    // For authorisation and pages, not part of the answer.
    [JsonIgnore] public SiteId SiteId { get; init; }
    [JsonIgnore] public FileReading Read { get; init; } = new(SubmissionFormat.Csv, null);
    [JsonIgnore] public Guid? MappingId { get; init; }
    [JsonIgnore] public string? FileName { get; init; }
    [JsonIgnore] public SubmissionFormat Format => Read.Format;
    [JsonIgnore] public bool IsRefused => State == Codes.Of(SubmissionState.Refused);
    [JsonIgnore] public bool IsFinished => IsRefused || State == Codes.Of(SubmissionState.Done);

    /// <summary>Rows by outcome, for pages.</summary>
    [JsonIgnore]
    public IReadOnlyList<(RowOutcome Outcome, int Rows)> ByOutcome =>
        [(RowOutcome.Accepted, Accepted), (RowOutcome.Unchanged, Unchanged), (RowOutcome.Rejected, Rejected), (RowOutcome.Held, Held),
            (RowOutcome.StillWaiting, StillWaiting)];
}

/// <summary>The answer to a submission: its state and, when it is finished and small, its rows.</summary>
public sealed record SubmissionAnswer(SubmissionStatus Submission, IReadOnlyList<RowReport>? Rows);

/// <summary>A page of rows; <c>next</c> leads to the following one and is null at the end.</summary>
public sealed record RowPage(IReadOnlyList<RowReport> Rows, string? Next);

/// <summary>Which rows of a submission; null is any.</summary>
/// <param name="Outcome">What became of them.</param>
/// <param name="Kind">What they report.</param>
/// <param name="HeldReason">Why they are held.</param>
/// <param name="Field">Of the problem that <paramref name="Reason"/> names; null when it has none.</param>
/// <param name="Reason">They have this problem.</param>
/// <param name="Waiting">Leaves out what was discarded; not what was rejected as it was before.</param>
public sealed record RowFilter(
    RowOutcome? Outcome = null, RowKind? Kind = null, HoldReason? HeldReason = null, string? Field = null, string? Reason = null,
    bool Waiting = false);

/// <summary>How many rows share an outcome and a reason.</summary>
public sealed record ReasonCount(RowOutcome Outcome, RowKind? Kind, HoldReason? HeldReason, string? Field, string? Reason, int Rows);
