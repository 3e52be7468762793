using Npgsql;
using Registry.Platform;
using Registry.Rules;

namespace Registry.PolicyVersions;

/// <summary>The program's policy versions: which one is in force on a day. Written once, never edited.</summary>
public sealed class PolicyStore(NpgsqlDataSource source, ProgramClock clock)
{
    private volatile IReadOnlyList<Policy>? _versions;

    /// <summary>The policy in force on <paramref name="day"/>: the latest effective on or before it.</summary>
    public async Task<Policy> InForceAsync(DateOnly day, CancellationToken cancel)
    {
        var versions = _versions ??= await ReadAsync(cancel);
        return versions.LastOrDefault(p => p.EffectiveFrom <= day) ?? versions[0];
    }

    public async Task<IReadOnlyList<Policy>> AllAsync(CancellationToken cancel) => _versions ??= await ReadAsync(cancel);

    /// <summary>A new registry starts with <see cref="Policy.Default"/>.</summary>
    public async Task EnsureDefaultAsync(CancellationToken cancel)
    {
        await using var insert = source.CreateCommand(
            """
            insert into policies (version, effective_from, document, recorded_at)
            select $1, $2, $3::jsonb, $4 where not exists (select from policies)
            """);
        insert.Parameters.AddWithValue(Policy.Default.Version);
        insert.Parameters.AddWithValue(Policy.Default.EffectiveFrom);
        insert.Parameters.AddWithValue(Policy.Default.ToJson());
        insert.Parameters.AddWithValue(clock.Now);
        await insert.ExecuteNonQueryAsync(cancel);
        _versions = null;
    }

    private async Task<IReadOnlyList<Policy>> ReadAsync(CancellationToken cancel)
    {
        var versions = new List<Policy>();
        await using var select = source.CreateCommand("select document::text from policies order by effective_from, recorded_at");
        await using var reader = await select.ExecuteReaderAsync(cancel);
        while (await reader.ReadAsync(cancel)) versions.Add(Policy.FromJson(reader.GetString(0)));
        return versions.Count > 0 ? versions : [Policy.Default];
    }
}
