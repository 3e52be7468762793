using System.Security.Cryptography;
using Microsoft.Extensions.Options;
using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Applying;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>
/// Small submissions that arrive at the same moment are stored, applied and committed in one transaction, as one file of the same rows
/// would be: what a commit costs is shared. Each keeps its own submission, raw bytes, row outcomes and answer. Whatever is not plain (a
/// file that cannot be read, a key used before, a transaction that could not be committed) is left to the way every submission can go.
/// </summary>
public sealed class ShareCommit
{
    /// <summary>Larger bodies share little: they go alone.</summary>
    public const int MaxBytes = 32 * 1024;

    private const int MaxSharing = 64;

    /// <summary>Transactions at a time: while one waits for its commit another is prepared.</summary>
    private const int AtOnce = 2;

    private static readonly string FreeKeysSql = EmbeddedSql.Of<ShareCommit>("FreeKeys");

    private readonly NpgsqlDataSource _source;
    private readonly PolicyStore _policies;
    private readonly ProgramClock _clock;
    private readonly RetryHeldRows _retry;
    private readonly IntakeOptions _options;
    private readonly ILogger<ShareCommit> _log;
    private readonly Batcher<Waiting> _waiting;

    public ShareCommit(
        NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, RetryHeldRows retry, IOptions<IntakeOptions> options,
        ILogger<ShareCommit> log)
    {
        (_source, _policies, _clock, _retry, _options, _log) = (source, policies, clock, retry, options.Value, log);
        _waiting = new(AtOnce, MaxSharing, RunAsync);
    }

    /// <summary>One submission on its way.</summary>
    private sealed class Waiting(NewSubmission submission, byte[] body)
    {
        public NewSubmission Submission { get; set; } = submission;
        public byte[] Body => body;
        public SubmissionId Id => Submission.Id;
        public SiteId SiteId => Submission.Sent.SiteId;
        public DateTimeOffset ReceivedAt => Submission.Sent.ReceivedAt;
        public string? Key => Submission.Sent.IdempotencyKey;
        public CheckedChunk Chunk { get; set; } = null!;
        public ChunkOutcomes Outcomes { get; set; } = null!;
        public TaskCompletionSource<Submitted.Stored?> Done { get; } = new(TaskCreationOptions.RunContinuationsAsynchronously);

        /// <summary>When rows were held or rejected the answer is to be read.</summary>
        public Submitted.Stored Stored => new(Id, Submission.Rows, IsRepeated: false)
        {
            Answer = Outcomes.Plain() is { } rows ? new(Submission.Status, rows) : null,
        };
    }

    /// <summary>A workbook is opened where it is stored, and a named mapping is looked up: those go alone, and so does a named
    /// file.</summary>
    public static bool Takes(SentFile sent) =>
        sent is { Mapping: null, FileName: null, Format: SubmissionFormat.Csv or SubmissionFormat.Json or SubmissionFormat.Ndjson };

    /// <returns>The committed submission with an outcome for every row; null when nothing was stored and the ordinary way is to be
    /// taken.</returns>
    public async Task<Submitted.Stored?> TryAsync(SentFile sent, byte[] body)
    {
        await using var bytes = new ReceivedBytes(new MemoryStream(body), body.Length, keep: null);
        var inspected = await InspectFile.RunAsync(
            sent, bytes, () => new MemoryStream(body), static _ => Task.FromResult<SavedMapping?>(null), _options, CancellationToken.None);
        if (inspected.Problems.Count > 0 || inspected.RowCount > _options.InlineRows) return null;

        var one = new Waiting(
            new(SubmissionId.New(), sent, inspected.Read, SHA256.HashData(body), body.Length, inspected.RowCount), body);
        _waiting.Add(one);
        return await one.Done.Task;
    }

    private async Task RunAsync(IReadOnlyList<Waiting> sharing)
    {
        IReadOnlyList<Waiting> committed = [];
        try
        {
            await using var connection = await _source.OpenConnectionAsync();
            (committed, var touched) = await InTransaction.RunAsync(connection, ct =>
                StoreAndApplyAsync(connection, sharing, ct), CancellationToken.None);
            await _retry.ForTouchedAsync(touched, sharing.Min(w => w.ReceivedAt), CancellationToken.None);
            foreach (var waits in committed.Where(w => w.Outcomes.AnyWaits))
                await _retry.ForSubmissionAsync(waits.Id, waits.ReceivedAt, CancellationToken.None);
        }
        catch (Exception e)
        {
            // Committed or not is known by now: what was not goes alone and meets its own error; rows that wait are the sweep's.
            _log.LogWarning("{Committed} of {Count} submissions were committed together; then: {Kind}", committed.Count, sharing.Count,
                e.GetType().Name);
        }
        finally
        {
            foreach (var one in sharing) one.Done.TrySetResult(committed.Contains(one) ? one.Stored : null);
        }
    }

    private async Task<(IReadOnlyList<Waiting> Stored, IReadOnlyCollection<Guid> Touched)> StoreAndApplyAsync(
        NpgsqlConnection connection, IReadOnlyList<Waiting> sharing, CancellationToken ct)
    {
        var plain = await WithoutUsedKeysAsync(connection, sharing, ct);
        if (plain.Count == 0) return ([], []);
        var sites = await KnownSites.ReadAsync(connection, ct);
        foreach (var one in plain) one.Chunk = await CheckAsync(connection, one, sites, ct);

        var today = _clock.Today;
        var applied = await ApplyRows.RunAsync(connection, [.. plain.SelectMany(w => w.Chunk.Valid)],
            await _policies.InForceAsync(today, ct), today, ct);
        var from = 0;
        var results = new List<(CheckedChunk, IReadOnlyList<AppliedRow>)>(plain.Count);
        foreach (var one in plain)
        {
            results.Add((one.Chunk, [.. applied.Rows.Skip(from).Take(one.Chunk.Valid.Count)]));
            from += one.Chunk.Valid.Count;
        }

        var outcomes = await WriteOutcomes.RunAsync(connection, results, ct);
        var now = _clock.Now;
        foreach (var (i, one) in plain.Index())
        {
            one.Outcomes = outcomes[i];
            one.Submission = one.Submission with { Counts = outcomes[i].Counts, FinishedAt = now < one.ReceivedAt ? one.ReceivedAt : now };
        }

        await StoreAsync(connection, plain, ct);
        return (plain, applied.Touched);
    }

    private async Task<CheckedChunk> CheckAsync(NpgsqlConnection connection, Waiting one, KnownSites sites, CancellationToken ct)
    {
        var batch = new RowBatch(one.Submission.Rows, whole: true);
        using var rows = await OpenRows.ToReadAsync(
            one.Submission.Read, new MemoryStream(one.Body), _clock.Zone, new(_source, one.SiteId), ct);
        await rows.FillAsync(batch, ct);
        return await CheckedChunk.CheckAsync(connection, batch, 0, sites.Check(_clock, one.ReceivedAt, one.SiteId),
            new(one.Id, one.SiteId, one.ReceivedAt, AllOrNothing: false), ct);
    }

    /// <summary>Those whose Idempotency-Key nobody used or is using; theirs are held until the transaction ends.</summary>
    private static async Task<List<Waiting>> WithoutUsedKeysAsync(NpgsqlConnection connection, IReadOnlyList<Waiting> sharing,
        CancellationToken ct)
    {
        var keyed = sharing.Where(w => w.Key is not null).DistinctBy(w => (w.SiteId, w.Key)).ToList();
        if (keyed.Count == 0) return [.. sharing];
        await using var command = new NpgsqlCommand(FreeKeysSql, connection);
        command.Parameters.AddWithValue(keyed.Select(w => w.SiteId.Value).ToArray());
        command.Parameters.AddWithValue(keyed.Select(w => w.Key!).ToArray());
        command.Parameters.AddWithValue(keyed.Select(w => ReceiveSubmission.LockOf(w.SiteId, w.Key!)).ToArray());
        command.Parameters.AddWithValue((long)LockedThing.IdempotencyKey);
        var free = new HashSet<Waiting>();
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) free.Add(keyed[(int)reader.GetInt64(0) - 1]);
        return [.. sharing.Where(w => w.Key is null || free.Contains(w))];
    }

    private static async Task StoreAsync(NpgsqlConnection connection, List<Waiting> plain, CancellationToken ct)
    {
        await SubmissionRecord.WriteAsync(connection, plain.ConvertAll(w => w.Submission), ct);
        await CopyRows.RunAsync(connection, "copy submission_chunks (submission_id, ordinal, bytes, key_id) from stdin (format binary)",
            plain, static (w, one) =>
            {
                var (stored, key) = StoredPiece.Of(one.Body, one.Id, 0);
                w.Id(one.Id.Value);
                w.Number(0);
                w.Write(stored, NpgsqlDbType.Bytea);
                w.Text(key);
            }, ct);
    }
}
