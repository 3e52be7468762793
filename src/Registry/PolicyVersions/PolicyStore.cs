using Npgsql;
using Registry.Platform;
using Registry.Rules;

namespace Registry.PolicyVersions;

/// <summary>The program's policy versions: which one is in force on a day. Written once, never edited.</summary>
public sealed class PolicyStore(NpgsqlDataSource source, ProgramClock clock)
{
    /// <summary>How long another process may take to notice a new version. Versions begin tomorrow at the earliest, and the nightly sweep
    /// recomputes whatever was computed under another.</summary>
    private static readonly TimeSpan Fresh = TimeSpan.FromSeconds(30);

    private volatile IReadOnlyList<Policy>? _versions;
    private long _readAt;

    /// <summary>The policy in force on <paramref name="day"/>: the latest effective on or before it.</summary>
    public async Task<Policy> InForceAsync(DateOnly day, CancellationToken ct)
    {
        var versions = await AllAsync(ct);
        return versions.LastOrDefault(p => p.EffectiveFrom <= day) ?? versions[0];
    }

    /// <summary>Every version that is or will be in force, oldest first; never empty.</summary>
    public async Task<IReadOnlyList<Policy>> AllAsync(CancellationToken ct)
    {
        if (_versions is { } known && System.Diagnostics.Stopwatch.GetElapsedTime(Interlocked.Read(ref _readAt)) < Fresh) return known;
        var versions = await ReadAsync(ct);
        Interlocked.Exchange(ref _readAt, System.Diagnostics.Stopwatch.GetTimestamp());
        return _versions = versions;
    }

    /// <summary>A version was added or withdrawn by this process.</summary>
    public void Forget() => _versions = null;

    /// <summary>A new registry starts with <see cref="Policy.Default"/>.</summary>
    public async Task EnsureDefaultAsync(CancellationToken ct)
    {
        await using var insert = source.CreateCommand(EmbeddedSql.Of<PolicyStore>("InsertDefaultPolicy"));
        insert.Parameters.AddWithValue(Policy.Default.Version);
        insert.Parameters.AddWithValue(Policy.Default.EffectiveFrom);
        insert.Parameters.AddWithValue(Policy.Default.ToJson());
        insert.Parameters.AddWithValue(clock.Now);
        await insert.ExecuteNonQueryAsync(ct);
        Forget();
    }

    private async Task<IReadOnlyList<Policy>> ReadAsync(CancellationToken ct)
    {
        var versions = new List<Policy>();
        await using var select = source.CreateCommand(
            "select document::text from policies where withdrawn_at is null order by effective_from, recorded_at");
        await using var reader = await select.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) versions.Add(Policy.FromJson(reader.GetString(0)) with { Zone = clock.Zone });
        return versions.Count > 0 ? versions : [Policy.Default with { Zone = clock.Zone }];
    }
}
