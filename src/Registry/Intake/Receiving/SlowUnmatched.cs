using System.Collections.Concurrent;
using System.Diagnostics;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Intake.Raw;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>
/// Slows a sender that names many card ids which lead nowhere: beyond the day's allowance each costs it a second, at most an hour, before
/// anything more is taken in. What was taken in stays, and waits. Said once a day in the log, and on the page of claims.
/// </summary>
/// <remarks>The allowance and the second are our own choice: common practice, no source.</remarks>
public sealed class SlowUnmatched(
    NpgsqlDataSource source, ProgramClock clock, IOptions<IntakeOptions> options, ILogger<SlowUnmatched> log)
{
    private const int MostSeconds = 3_600;

    /// <summary>What is known of a sender is this old at most: a rush costs no query each.</summary>
    private static readonly TimeSpan Fresh = TimeSpan.FromSeconds(2);

    private readonly ConcurrentDictionary<SiteId, (long ReadAt, int Rows, DateTimeOffset LastAt)> _counts = new();
    private readonly ConcurrentDictionary<(SiteId, DateOnly), bool> _said = new();

    /// <returns>How many seconds the sender waits before it may send again; 0: it may.</returns>
    public async Task<int> SecondsAsync(SiteId site, CancellationToken ct)
    {
        var now = clock.Now;
        var day = DateOnly.FromDateTime(now.UtcDateTime);
        if (!_counts.TryGetValue(site, out var known) || Stopwatch.GetElapsedTime(known.ReadAt) > Fresh)
            _counts[site] = known = await ReadAsync(site, day, now, ct);
        var beyond = known.Rows - options.Value.UnmatchedCardsPerDay;
        if (beyond <= 0) return 0;
        if (_said.TryAdd((site, day), true))
            log.LogWarning("Site {SiteId} named {Rows} card ids today that lead nowhere: it is slowed down", site.Value, known.Rows);
        return Math.Max(0, (int)Math.Ceiling((known.LastAt.AddSeconds(Math.Min(beyond, MostSeconds)) - now).TotalSeconds));
    }

    private async Task<(long, int, DateTimeOffset)> ReadAsync(SiteId site, DateOnly day, DateTimeOffset now, CancellationToken ct)
    {
        await using var command = source.CreateCommand("select rows, last_at from unmatched_counts where site_id = $1 and day = $2");
        command.Parameters.AddWithValue(site.Value);
        command.Parameters.AddWithValue(day);
        await using var r = await command.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct)
            ? (Stopwatch.GetTimestamp(), r.GetInt32(0), r.GetFieldValue<DateTimeOffset>(1)) : (Stopwatch.GetTimestamp(), 0, now);
    }
}
