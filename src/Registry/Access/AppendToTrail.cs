using System.Globalization;
using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>
/// Puts entries to the access trail, each chained to the one before when it is committed: there is no moment at which an entry is in the
/// trail and not in the chain. Entries that come at the same moment are put there by one transaction, which holds the end of the trail for
/// as long as that takes; other programs on the same database wait for it.
/// </summary>
public sealed partial class AppendToTrail
{
    private const int Most = 500;
    private const int StrangersAMinute = 120;

    private sealed record Waiting(AccessRecord Entry)
    {
        public TaskCompletionSource Done { get; } = new(TaskCreationOptions.RunContinuationsAsynchronously);
    }

    private static readonly string InsertSql = EmbeddedSql.Of<AppendToTrail>();

    private readonly NpgsqlDataSource _source;
    private readonly TimeProvider _clock;
    private readonly ILogger<AppendToTrail> _log;
    private readonly Batcher<Waiting> _batches;
    private readonly Lock _strangers = new();
    private (long Minute, int Recorded, int LeftOut) _ofStrangers;

    public AppendToTrail(NpgsqlDataSource source, TimeProvider clock, ILogger<AppendToTrail> log) =>
        (_source, _clock, _log, _batches) = (source, clock, log, new(atOnce: 1, Most, AppendAsync));

    /// <summary>Ends when the entry is committed; throws when it could not be: what is not recorded must not be shown.</summary>
    public Task AddAsync(AccessRecord entry)
    {
        var waiting = new Waiting(entry);
        _batches.Add(waiting);
        return waiting.Done.Task;
    }

    /// <summary>Something anybody can do without being known, as often as they like: beyond so many a minute it is counted, and the next
    /// entry says how many were left out. A flood must not fill the disk.</summary>
    public Task AddOfStrangerAsync(Func<string?, AccessRecord> entry)
    {
        string? note;
        lock (_strangers)
        {
            var minute = _clock.GetUtcNow().Ticks / TimeSpan.TicksPerMinute;
            if (minute != _ofStrangers.Minute) _ofStrangers = (minute, 0, _ofStrangers.LeftOut);
            if (_ofStrangers.Recorded >= StrangersAMinute)
            {
                _ofStrangers.LeftOut++;
                return Task.CompletedTask;
            }

            note = _ofStrangers.LeftOut == 0 ? null
                : string.Create(CultureInfo.InvariantCulture, $"and {_ofStrangers.LeftOut} before that were only counted");
            _ofStrangers = (minute, _ofStrangers.Recorded + 1, 0);
        }

        return AddAsync(entry(note));
    }

    private async Task AppendAsync(IReadOnlyList<Waiting> batch)
    {
        try
        {
            var last = await CommitAsync([.. batch.Select(w => w.Entry)]);
            LogEnd(batch.Count, last);
            foreach (var one in batch) one.Done.SetResult();
        }
        catch (Exception e)
        {
            foreach (var one in batch) one.Done.TrySetException(e);
        }
    }

    /// <returns>The hash of the last, as text.</returns>
    private async Task<string> CommitAsync(IReadOnlyList<AccessRecord> entries)
    {
        await using var connection = await _source.OpenConnectionAsync();
        await using var transaction = await connection.BeginTransactionAsync();
        var (hash, at) = await EndAsync(connection);
        await using var insert = new NpgsqlBatch(connection);
        foreach (var entry in entries)
        {
            var now = Microsecond(_clock.GetUtcNow());
            at = entry.At = now > at ? now : at; // clocks of several machines differ; the trail's own time never runs backwards
            hash = entry.Hash = ChainTrail.Hash(hash, entry);
            insert.BatchCommands.Add(Insert(entry));
        }

        await insert.ExecuteNonQueryAsync();
        await transaction.CommitAsync();
        return Convert.ToHexStringLower(hash);
    }

    /// <summary>The end of the trail, and the turn to go on from it: nobody else's entry comes between until the transaction
    /// ends.</summary>
    private static async Task<(byte[] Hash, DateTimeOffset At)> EndAsync(NpgsqlConnection connection)
    {
        await using var batch = new NpgsqlBatch(connection)
        {
            BatchCommands =
            {
                AdvisoryLock.ForTransaction(LockedThing.Trail, ""),
                new("select hash, at from access_records where hash is not null order by id desc limit 1"),
            },
        };
        await using var reader = await batch.ExecuteReaderAsync();
        await reader.NextResultAsync(); // of the lock
        return await reader.ReadAsync()
            ? (reader.GetFieldValue<byte[]>(0), reader.Moment(1)) : (ChainTrail.Beginning, DateTimeOffset.MinValue);
    }

    private static NpgsqlBatchCommand Insert(AccessRecord entry)
    {
        var command = new NpgsqlBatchCommand(InsertSql);
        var p = command.Parameters;
        p.AddWithValue(entry.At);
        p.AddWithValue(Codes.Of(entry.Kind));
        p.AddNullable(entry.PersonId, NpgsqlDbType.Uuid);
        p.AddNullable(entry.SiteKeyId, NpgsqlDbType.Uuid);
        p.AddWithValue(entry.Action);
        p.AddNullable(entry.Handler, NpgsqlDbType.Text);
        p.AddNullable(entry.Filter, NpgsqlDbType.Text);
        p.AddNullable(entry.InfantId?.Value, NpgsqlDbType.Uuid);
        p.AddWithValue(entry.InfantCount);
        p.AddNullable(entry.Infants, NpgsqlDbType.Array | NpgsqlDbType.Uuid);
        p.AddNullable(entry.SubjectId, NpgsqlDbType.Uuid);
        p.AddNullable(entry.Note, NpgsqlDbType.Text);
        p.AddNullable(entry.Address, NpgsqlDbType.Text);
        p.AddWithValue(entry.Hash!);
        return command;
    }

    /// <summary>The finest the database keeps.</summary>
    private static DateTimeOffset Microsecond(DateTimeOffset at) =>
        new(at.UtcTicks - at.UtcTicks % TimeSpan.TicksPerMicrosecond, TimeSpan.Zero);

    [LoggerMessage(LogLevel.Information, "Access trail: {Entries} entries, now ends with {Hash}")]
    private partial void LogEnd(int entries, string hash);
}
