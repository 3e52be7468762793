using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Submissions;

/// <summary>A submission as it is first stored: received, refused, or, when its rows were applied in the same transaction,
/// finished.</summary>
public sealed record NewSubmission(SubmissionId Id, SentFile Sent, FileReading Read, byte[] Sha256, long Bytes, int Rows)
{
    /// <summary>Why the file as a whole cannot be read.</summary>
    public IReadOnlyList<FileProblem> Problems { get; init; } = [];

    /// <summary>Rows by <see cref="RowOutcome"/> of one that is finished.</summary>
    public IReadOnlyList<int>? Counts { get; init; }

    public DateTimeOffset? FinishedAt { get; init; }

    public SubmissionState State => Problems.Count > 0 ? SubmissionState.Refused
        : Counts is null ? SubmissionState.Received : SubmissionState.Done;

    /// <summary>As it would be read back.</summary>
    public SubmissionStatus Status => new()
    {
        Id = Id.Value,
        State = Codes.Of(State),
        Rows = Rows,
        RowsDone = Counts?.Sum() ?? 0,
        Accepted = Of(RowOutcome.Accepted),
        Unchanged = Of(RowOutcome.Unchanged),
        Rejected = Of(RowOutcome.Rejected),
        Held = Of(RowOutcome.Held),
        StillWaiting = Of(RowOutcome.StillWaiting),
        ReceivedAt = Microseconds(Sent.ReceivedAt),
        FinishedAt = FinishedAt is { } at ? Microseconds(at) : null,
        Bytes = Bytes,
        Sha256 = Convert.ToHexStringLower(Sha256),
        Errors = Problems,
        SiteId = Sent.SiteId,
        Read = Read,
        FileName = Sent.FileName,
    };

    internal int Of(RowOutcome outcome) => Counts?[(int)outcome] ?? 0;

    /// <summary>A moment as the database keeps it.</summary>
    private static DateTimeOffset Microseconds(DateTimeOffset at) =>
        new(at.UtcTicks - (at.UtcTicks % TimeSpan.TicksPerMicrosecond), TimeSpan.Zero);
}

/// <summary>The row of a submission: the one place that writes it and the one that reads it for whoever follows it.</summary>
internal static class SubmissionRecord
{
    private static readonly string Copy = EmbeddedSql.Read(typeof(SubmissionRecord), "CopySubmissions");

    /// <summary>Writes new submissions in the connection's transaction.</summary>
    public static Task WriteAsync(NpgsqlConnection connection, IReadOnlyCollection<NewSubmission> submissions, CancellationToken ct) =>
        CopyRows.RunAsync(connection, Copy, submissions, Write, ct);

    private static void Write(NpgsqlBinaryImporter w, NewSubmission one)
    {
        w.Id(one.Id.Value);
        w.Id(one.Sent.SiteId.Value);
        w.Code(one.Sent.Format);
        w.Code(one.State);
        w.Code(one.Sent.DefaultKind);
        w.Moment(one.Sent.ReceivedAt);
        w.Id(one.Sent.By.SiteKeyId);
        w.Id(one.Sent.By.PersonId);
        w.Text(one.Sent.IdempotencyKey);
        w.Text(FieldKeys.OfProcess.Encrypt(one.Sent.FileName, "submissions.file_name"));
        w.Write(one.Sha256, NpgsqlDbType.Bytea);
        w.Write(one.Bytes, NpgsqlDbType.Bigint);
        w.Number(one.Rows);
        w.Number(one.Counts?.Sum() ?? 0);
        foreach (var outcome in (ReadOnlySpan<RowOutcome>)
            [RowOutcome.Accepted, RowOutcome.Unchanged, RowOutcome.Rejected, RowOutcome.Held, RowOutcome.StillWaiting])
            w.Number(one.Of(outcome));
        w.Json(one.Problems.Count == 0 ? null : JsonSerializer.Serialize(one.Problems, JsonSerializerOptions.Web));
        w.Moment(one.FinishedAt);
        w.Bool(one.Sent.Gzip);
        w.Code(one.Read.Encoding);
        w.Text(FieldKeys.OfProcess.Encrypt(one.Sent.Sheet, FileReading.SheetColumn));
        w.Id(one.Read.Mapping?.VersionId);
        w.Code(one.Sent.By.As);
    }

    /// <summary>How many columns <see cref="Read"/> reads; a statement's own follow.</summary>
    internal const int ColumnCount = 24;

    /// <summary>Reads the columns of <c>ReadSubmission.sql</c>.</summary>
    public static SubmissionStatus Read(NpgsqlDataReader r) => new()
    {
        Id = r.GetGuid(0),
        State = r.GetString(1),
        Rows = r.GetInt32(2),
        RowsDone = r.GetInt32(3),
        Accepted = r.GetInt32(4),
        Unchanged = r.GetInt32(5),
        Rejected = r.GetInt32(6),
        Held = r.GetInt32(7),
        ReceivedAt = r.Moment(8),
        FinishedAt = r.ValueOrNull<DateTimeOffset>(9),
        Bytes = r.GetInt64(10),
        Sha256 = Convert.ToHexStringLower(r.GetFieldValue<byte[]>(11)),
        Errors = r.TextOrNull(12) is { } refusal ? JsonSerializer.Deserialize<List<FileProblem>>(refusal, JsonSerializerOptions.Web)! : [],
        SiteId = new(r.GetGuid(13)),
        FileName = FieldKeys.OfProcess.Decrypt(r.TextOrNull(14), "submissions.file_name"),
        Read = FileReading.Read(r, 15),
        MappingId = r.ValueOrNull<Guid>(20),
        Mapping = r.TextOrNull(21) is { } mapping ? $"{mapping}, version {r.GetInt32(22)}" : null,
        StillWaiting = r.GetInt32(23),
    };
}
