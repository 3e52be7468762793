using System.Collections.Concurrent;
using System.Diagnostics;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Intake.Raw;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>
/// How many bytes a site may still store. What it stored is read from the database now and then and counted on here, so that no request
/// pays for it; another process's count is minutes late, which the limits of <see cref="LimitIntake"/> bound.
/// </summary>
public sealed class LimitStorage(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, IOptions<IntakeOptions> options)
{
    private static readonly TimeSpan Fresh = TimeSpan.FromMinutes(5);

    private readonly ConcurrentDictionary<SiteId, Stored> _stored = new();

    /// <summary>What one site stored: as read, and since then.</summary>
    private sealed class Stored(Task<long> read)
    {
        private readonly long _at = Stopwatch.GetTimestamp();
        private long _since;

        public bool IsFresh => Stopwatch.GetElapsedTime(_at) < Fresh && !read.IsFaulted && !read.IsCanceled;
        public async Task<long> BytesAsync(CancellationToken ct) => await read.WaitAsync(ct) + Interlocked.Read(ref _since);
        public void Add(long bytes) => Interlocked.Add(ref _since, bytes);
    }

    /// <summary>Bytes this site may still store; below zero when it stored more than it may.</summary>
    public async Task<long> LeftAsync(SiteId site, CancellationToken ct)
    {
        var stored = _stored.AddOrUpdate(site, Read, (s, known) => known.IsFresh ? known : Read(s));
        return options.Value.BytesPerSite - await stored.BytesAsync(ct);
    }

    /// <summary>A submission of this site was committed.</summary>
    public void Took(SiteId site, long bytes)
    {
        if (_stored.TryGetValue(site, out var stored)) stored.Add(bytes);
    }

    private Stored Read(SiteId site) => new(SumAsync(site));

    private async Task<long> SumAsync(SiteId site)
    {
        await using var command = source.CreateCommand(
            "select coalesce(sum(byte_count), 0)::bigint from submissions "
            + "where site_id = $1 and (state <> 'refused' or finished_at >= $2)");
        command.Parameters.AddWithValue(site.Value);
        var policy = await policies.InForceAsync(clock.Today, CancellationToken.None);
        command.Parameters.AddWithValue(clock.Now.ToUniversalTime().AddDays(-policy.RefusedFileDays));
        return (long)(await command.ExecuteScalarAsync())!;
    }
}
