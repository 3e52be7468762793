using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Access;

/// <summary>A site key in force, or a token that was given for one.</summary>
/// <param name="Id">The key.</param>
/// <param name="SiteId">Whose.</param>
/// <param name="Name">The system.</param>
/// <param name="Scope">What is opened: by the key, or by the token.</param>
/// <param name="PublicKeys">What a system's signatures are checked by; null for one with a secret.</param>
/// <param name="Certificates">One of them must be shown, where there are any.</param>
public sealed record KeyInForce(Guid Id, SiteId SiteId, string Name, KeyScope Scope, string? PublicKeys, string[] Certificates);

/// <summary>
/// Finds the key of a secret or token, at every request of a site's system: a key revoked or run out a moment ago, or of a site no longer
/// active, is not found, nor is any token that was given for it. Requests that come at the same
/// moment are looked up by one statement. A key's last use is noted at most once a minute.
/// </summary>
public sealed class FindSiteKey
{
    private const int Most = 256;
    private static readonly TimeSpan NotedEvery = TimeSpan.FromMinutes(1);
    private static readonly string Sql = EmbeddedSql.Of<FindSiteKey>();

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

    /// <summary>The key in force for a secret or token, or null.</summary>
    /// <param name="secret">What was presented.</param>
    /// <param name="address">Where from, to be noted.</param>
    public async Task<KeyInForce?> ForAsync(string secret, string? address = null)
    {
        if (!SiteKeys.MayBe(secret)) return null;
        var asked = new Asked(SiteKeys.Hash(secret), address);
        _lookups.Add(asked);
        return await asked.Found.Task;
    }

    /// <summary>The key in force of a system that signs, or null.</summary>
    public async Task<KeyInForce?> OfSystemAsync(Guid client, CancellationToken ct)
    {
        await using var connection = await _source.OpenConnectionAsync(ct);
        await using var command = Command(connection, [], client, _clock.GetUtcNow());
        await using var reader = await command.ExecuteReaderAsync(ct);
        return await reader.ReadAsync(ct) ? Read(reader) : null;
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
        var unnoted = new Dictionary<Guid, string?>();
        await using var connection = await _source.OpenConnectionAsync();
        await using (var command = Command(connection, [.. asked.Select(a => a.Sha256).DistinctBy(Convert.ToHexString)], null, now))
        {
            await using var reader = await command.ExecuteReaderAsync();
            while (await reader.ReadAsync())
            {
                var hash = reader.GetFieldValue<byte[]>(0);
                var key = found[Convert.ToHexString(hash)] = Read(reader);
                if (reader.ValueOrNull<DateTimeOffset>(4) is not { } noted || now - noted >= NotedEvery)
                    unnoted[key.Id] = asked.First(a => a.Sha256.AsSpan().SequenceEqual(hash)).Address;
            }
        }

        if (unnoted.Count == 0) return found;
        await using var note = new NpgsqlCommand(
            """
            update site_keys k set last_used_at = $1, last_used_from = coalesce(u.address, k.last_used_from)
              from unnest($2::uuid[], $3::text[]) as u (id, address) where k.id = u.id
            """, connection);
        note.Parameters.AddWithValue(now.ToUniversalTime());
        note.Parameters.AddWithValue(unnoted.Keys.ToArray());
        note.Parameters.AddWithValue(unnoted.Values.ToArray());
        await note.ExecuteNonQueryAsync();
        return found;
    }

    private NpgsqlCommand Command(NpgsqlConnection connection, byte[][] shown, Guid? client, DateTimeOffset now)
    {
        var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue("shown", shown);
        command.Parameters.AddNullable("client", client, NpgsqlDbType.Uuid);
        command.Parameters.AddWithValue("now", now);
        command.Parameters.AddWithValue("demonstration", _demonstration.IsOn);
        return command;
    }

    private static KeyInForce Read(NpgsqlDataReader r) => new(
        r.GetGuid(1), new(r.GetGuid(2)), r.GetString(3), r.Code<KeyScope>(5), r.TextOrNull(6), r.GetFieldValue<string[]>(7));
}
