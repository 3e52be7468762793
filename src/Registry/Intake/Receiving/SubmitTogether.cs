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
using Registry.Rules.Facts;

namespace Registry.Intake.Receiving;

/// <summary>A submission committed together with others.</summary>
/// <param name="Answer">Its answer; null when rows were held or rejected, and it is to be read.</param>
public sealed record SubmittedTogether(SubmissionId Id, SubmissionAnswer? Answer);

/// <summary>
/// Small submissions that arrive at the same moment are stored, applied and committed in one transaction, as one file of the same rows
/// would be: what a commit costs is shared. Each keeps its own submission, raw bytes, row outcomes and answer. Whatever is not plain (a
/// file that cannot be read, a key used before, a transaction that could not be committed) is left to the way every submission can go.
/// </summary>
public sealed class SubmitTogether
{
    /// <summary>Larger bodies share little: they go alone.</summary>
    public const int MaxBytes = 32 * 1024;

    private const int MaxTogether = 64;

    /// <summary>Transactions at a time: while one waits for its commit another is prepared.</summary>
    private const int AtOnce = 2;

    private readonly NpgsqlDataSource _source;
    private readonly PolicyStore _policies;
    private readonly ProgramClock _clock;
    private readonly RetryHeldRows _retry;
    private readonly IntakeOptions _options;
    private readonly ILogger<SubmitTogether> _log;
    private readonly Batcher<Waiting> _together;

    public SubmitTogether(
        NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, RetryHeldRows retry, IOptions<IntakeOptions> options,
        ILogger<SubmitTogether> log)
    {
        (_source, _policies, _clock, _retry, _options, _log) = (source, policies, clock, retry, options.Value, log);
        _together = new(AtOnce, MaxTogether, RunAsync);
    }

    /// <summary>One submission on its way.</summary>
    private sealed class Waiting(SentFile sent, byte[] body, HowToRead read, int rowCount)
    {
        public SubmissionId Id { get; } = SubmissionId.New();
        public SiteId SiteId => sent.SiteId;
        public HowToRead Read => read;
        public byte[] Body => body;
        public ReceivedBy By => sent.By;
        public DateTimeOffset ReceivedAt => sent.ReceivedAt;
        public string? Key => sent.IdempotencyKey;
        public int RowCount => rowCount;
        public byte[] Sha256 { get; } = SHA256.HashData(body);
        public CheckedChunk Chunk { get; set; } = null!;
        public ChunkOutcomes Outcomes { get; set; } = null!;
        public int[] Counts => Outcomes.Counts;
        public DateTimeOffset FinishedAt { get; set; }
        public TaskCompletionSource<SubmittedTogether?> Done { get; } = new(TaskCreationOptions.RunContinuationsAsynchronously);

        /// <summary>As it would be read back.</summary>
        public SubmissionStatus Status => new(
            Id.Value, Codes.Of(SubmissionState.Done), RowCount, RowCount, Counts[(int)RowOutcome.Accepted],
            Counts[(int)RowOutcome.Unchanged],
            Counts[(int)RowOutcome.Rejected], Counts[(int)RowOutcome.Held], Microseconds(ReceivedAt), Microseconds(FinishedAt), Body.Length,
            Convert.ToHexStringLower(Sha256), [])
        {
            SiteId = SiteId,
            Read = read,
        };

        /// <summary>A moment as the database keeps it.</summary>
        private static DateTimeOffset Microseconds(DateTimeOffset at) =>
            new(at.UtcTicks - (at.UtcTicks % TimeSpan.TicksPerMicrosecond), TimeSpan.Zero);
    }

    /// <returns>The committed submission with an outcome for every row; null when nothing was stored and the ordinary way is to be
    /// taken.</returns>
    public async Task<SubmittedTogether?> TryAsync(SentFile sent, byte[] body)
    {
        await using var bytes = new ReceivedBytes(new MemoryStream(body), body.Length, keep: null);
        var inspected = await InspectFile.RunAsync(
            sent, bytes, () => new MemoryStream(body), static _ => Task.FromResult<SavedMapping?>(null), _options, CancellationToken.None);
        if (inspected.Problems.Count > 0 || inspected.RowCount > _options.InlineRows) return null;

        var one = new Waiting(sent, body, inspected.Read, inspected.RowCount);
        _together.Add(one);
        return await one.Done.Task;
    }

    private async Task RunAsync(IReadOnlyList<Waiting> together)
    {
        IReadOnlyList<Waiting> committed = [];
        try
        {
            await using var connection = await _source.OpenConnectionAsync();
            (committed, var known) = await InTransaction.RunAsync(connection, ct =>
                StoreAndApplyAsync(connection, together, ct), CancellationToken.None);
            await _retry.ForNewlyKnownAsync(known, together.Min(w => w.ReceivedAt), CancellationToken.None);
            foreach (var waits in committed.Where(w => w.Outcomes.AnyWaits))
                await _retry.ForSubmissionAsync(waits.Id, waits.ReceivedAt, CancellationToken.None);
        }
        catch (Exception e)
        {
            // Committed or not is known by now: what was not goes alone and meets its own error; rows that wait are the sweep's.
            _log.LogWarning("{Committed} of {Count} submissions were committed together; then: {Kind}", committed.Count, together.Count,
                e.GetType().Name);
        }
        finally
        {
            foreach (var one in together)
                one.Done.TrySetResult(
                    !committed.Contains(one) ? null : new(one.Id, one.Outcomes.Plain() is { } rows ? new(one.Status, rows) : null));
        }
    }

    private async Task<(IReadOnlyList<Waiting> Stored, NewlyKnown Known)> StoreAndApplyAsync(
        NpgsqlConnection connection, IReadOnlyList<Waiting> together, CancellationToken ct)
    {
        var plain = await WithoutUsedKeysAsync(connection, together, ct);
        if (plain.Count == 0) return ([], new());
        var sites = await KnownSites.ReadAsync(connection, ct);
        foreach (var one in plain)
        {
            var batch = new RowBatch(one.RowCount, whole: true);
            using var rows = await RowReader.OpenAsync(one.Read, new MemoryStream(one.Body), _clock.Zone, new(_source, one.SiteId), ct);
            await rows.FillAsync(batch, ct);
            one.Chunk = await CheckedChunk.CheckAsync(connection, batch, 0, sites.Check(_clock.DateOf(one.ReceivedAt), one.SiteId),
                new(one.Id, one.SiteId, one.ReceivedAt, AllOrNothing: false), ct);
        }

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
        for (var i = 0; i < plain.Count; i++) plain[i].Outcomes = outcomes[i];
        await StoreAsync(connection, plain, ct);
        return (plain, applied.Known);
    }

    /// <summary>Those whose Idempotency-Key nobody used or is using; theirs are held until the transaction ends.</summary>
    private static async Task<List<Waiting>> WithoutUsedKeysAsync(NpgsqlConnection connection, IReadOnlyList<Waiting> together,
        CancellationToken ct)
    {
        var keyed = together.Where(w => w.Key is not null).DistinctBy(w => (w.SiteId, w.Key)).ToList();
        if (keyed.Count == 0) return [.. together];
        await using var command = new NpgsqlCommand(
            """
            select n, pg_try_advisory_xact_lock(hashtextextended(lock, 7)), exists (select from submissions s where s.site_id = k.site and s.idempotency_key = k.key)
              from unnest($1, $2, $3) with ordinality as k (site, key, lock, n)
            """, connection);
        command.Parameters.AddWithValue(keyed.Select(w => w.SiteId.Value).ToArray());
        command.Parameters.AddWithValue(keyed.Select(w => w.Key!).ToArray());
        command.Parameters.AddWithValue(keyed.Select(w => $"{w.SiteId.Value:N}/{w.Key}").ToArray());
        var free = new HashSet<Waiting>();
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
            if (reader.GetBoolean(1) && !reader.GetBoolean(2)) free.Add(keyed[(int)reader.GetInt64(0) - 1]);
        return [.. together.Where(w => w.Key is null || free.Contains(w))];
    }

    private async Task StoreAsync(NpgsqlConnection connection, List<Waiting> plain, CancellationToken ct)
    {
        var now = _clock.Now;
        await CopyRows.RunAsync(
            connection,
            """
            copy submissions (id, site_id, format, state, default_kind, received_at, site_key_id, person_id, idempotency_key,
              sha256, byte_count, row_count, rows_done, accepted, unchanged, rejected, held, finished_at, gzip, encoding) from stdin (format binary)
            """,
            plain, (w, one) =>
            {
                w.Write(one.Id.Value, NpgsqlDbType.Uuid);
                w.Write(one.SiteId.Value, NpgsqlDbType.Uuid);
                w.Write(Codes.Of(one.Read.Format), NpgsqlDbType.Text);
                w.Write(Codes.Of(SubmissionState.Done), NpgsqlDbType.Text);
                if (one.Read.DefaultKind is { } kind) w.Write(Codes.Of(kind), NpgsqlDbType.Text);
                else w.WriteNull();
                w.Write(one.ReceivedAt.ToUniversalTime(), NpgsqlDbType.TimestampTz);
                if (one.By.SiteKeyId is { } siteKey) w.Write(siteKey, NpgsqlDbType.Uuid);
                else w.WriteNull();
                if (one.By.PersonId is { } person) w.Write(person, NpgsqlDbType.Uuid);
                else w.WriteNull();
                if (one.Key is { } key) w.Write(key, NpgsqlDbType.Text);
                else w.WriteNull();
                w.Write(one.Sha256, NpgsqlDbType.Bytea);
                w.Write((long)one.Body.Length, NpgsqlDbType.Bigint);
                w.Write(one.RowCount, NpgsqlDbType.Integer);
                w.Write(one.RowCount, NpgsqlDbType.Integer);
                foreach (var outcome in Enum.GetValues<RowOutcome>()) w.Write(one.Counts[(int)outcome], NpgsqlDbType.Integer);
                one.FinishedAt = now < one.ReceivedAt ? one.ReceivedAt : now;
                w.Write(one.FinishedAt.ToUniversalTime(), NpgsqlDbType.TimestampTz);
                w.Write(one.Read.Gzip, NpgsqlDbType.Boolean);
                if (one.Read.Encoding is { } encoding) w.Write(Codes.Of(encoding), NpgsqlDbType.Text);
                else w.WriteNull();
            }, ct);
        await CopyRows.RunAsync(connection, "copy submission_chunks (submission_id, ordinal, bytes) from stdin (format binary)", plain,
            static (w, one) =>
        {
            w.Write(one.Id.Value, NpgsqlDbType.Uuid);
            w.Write(0, NpgsqlDbType.Integer);
            w.Write(one.Body, NpgsqlDbType.Bytea);
        }, ct);
    }
}
