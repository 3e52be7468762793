using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Access;

/// <summary>A site key in force.</summary>
public sealed record KeyInForce(Guid Id, SiteId SiteId, string Name, KeyScope Scope);

/// <summary>
/// Finds the key of a secret, at every request of a site's system: a key revoked or run out a moment ago, or of a site no longer
/// active, is not found. Requests that come at the same
/// moment are looked up by one statement. A key's last use is noted at most once a minute.
/// </summary>
public sealed class FindSiteKey
{
    private const int Most = 256;
    private static readonly TimeSpan NotedEvery = TimeSpan.FromMinutes(1);

    private sealed record Asked(byte[] Sha256, string? Address)
    {
        public TaskCompletionSource<KeyInForce?> Found { get; } = new(TaskCreationOptions.RunContinuationsAsynchronously);
    }

    private readonly NpgsqlDataSource _source;
    private readonly TimeProvider _clock;
    private readonly Demonstration _demonstration;
    private readonly Batcher<Asked> _lookups;

    public FindSiteKey(NpgsqlDataSource source, TimeProvider clock, Demonstration demonstration) =>
        (_source, _clock, _demonstration, _lookups) = (source, clock, demonstration, new(atOnce: 2, Most, FindAsync));

    /// <summary>The key in force for a secret, or null.</summary>
    /// <param name="secret">What was presented.</param>
    /// <param name="address">Where from, to be noted.</param>
    public async Task<KeyInForce?> ForAsync(string secret, string? address = null)
    {
        if (!SiteKeys.MayBe(secret)) return null;
        var asked = new Asked(SiteKeys.Hash(secret), address);
        _lookups.Add(asked);
        return await asked.Found.Task;
    }

    private async Task FindAsync(IReadOnlyList<Asked> asked)
    {
        try
        {
            var found = await ReadAsync(asked);
            foreach (var one in asked) one.Found.SetResult(found.GetValueOrDefault(Convert.ToHexString(one.Sha256)));
        }
        catch (Exception e)
        {
            foreach (var one in asked) one.Found.TrySetException(e);
        }
    }

    private async Task<Dictionary<string, KeyInForce>> ReadAsync(IReadOnlyList<Asked> asked)
    {
        var found = new Dictionary<string, KeyInForce>();
        var now = _clock.GetUtcNow();
        var unnoted = new List<(Guid Key, string? Address)>();
        await using var connection = await _source.OpenConnectionAsync();
        await using (var command = new NpgsqlCommand(
            """
            select k.sha256, k.id, k.site_id, k.name, k.last_used_at, k.scope
              from site_keys k
              join sites s on s.id = k.site_id
             where k.sha256 = any($1) and k.revoked_at is null and (k.expires_at is null or k.expires_at > $2)
               and s.active and (not k.demonstration or $3)
            """, connection))
        {
            command.Parameters.AddWithValue(asked.Select(a => a.Sha256).DistinctBy(Convert.ToHexString).ToArray());
            command.Parameters.AddWithValue(now);
            command.Parameters.AddWithValue(_demonstration.IsOn);
            await using var reader = await command.ExecuteReaderAsync();
            while (await reader.ReadAsync())
            {
                var hash = reader.GetFieldValue<byte[]>(0);
                var key = new KeyInForce(reader.GetGuid(1), new(reader.GetGuid(2)), reader.GetString(3), reader.Code<KeyScope>(5));
                found[Convert.ToHexString(hash)] = key;
                if (reader.ValueOrNull<DateTimeOffset>(4) is not { } noted || now - noted >= NotedEvery)
                    unnoted.Add((key.Id, asked.First(a => a.Sha256.AsSpan().SequenceEqual(hash)).Address));
            }
        }

        if (unnoted.Count == 0) return found;
        await using var note = new NpgsqlCommand(
            """
            update site_keys k set last_used_at = $1, last_used_from = coalesce(u.address, k.last_used_from)
              from unnest($2::uuid[], $3::text[]) as u (id, address) where k.id = u.id
            """, connection);
        note.Parameters.AddWithValue(now.ToUniversalTime());
        note.Parameters.AddWithValue(unnoted.Select(u => u.Key).ToArray());
        note.Parameters.AddWithValue(unnoted.Select(u => u.Address).ToArray());
        await note.ExecuteNonQueryAsync();
        return found;
    }
}
