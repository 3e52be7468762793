using System.Runtime.CompilerServices;
using Npgsql;
using Registry.Facts;

namespace Registry.Infants.Statuses;

/// <summary>Everyone with the facts known at a moment, chunk by chunk, in id order.</summary>
public static class WalkInfants
{
    private const int ChunkSize = 2_000;

    /// <remarks>A chunk may hold fewer infants than it counts: those whose birth was not known then are left out.</remarks>
    public static async IAsyncEnumerable<IReadOnlyList<KnownInfant>> KnownAtAsync(
        NpgsqlConnection connection, DateTimeOffset known, [EnumeratorCancellation] CancellationToken ct)
    {
        for (var ids = await NextAsync(connection, Guid.Empty, ct); ids.Count > 0; ids = await NextAsync(connection, ids[^1], ct))
            yield return await FactsForRules.KnownAtAsync(connection, ids, known, ct);
    }

    private static async Task<List<Guid>> NextAsync(NpgsqlConnection connection, Guid after, CancellationToken ct)
    {
        var ids = new List<Guid>(ChunkSize);
        await using var select = new NpgsqlCommand("select id from infants where id > $1 order by id limit $2", connection);
        select.Parameters.AddWithValue(after);
        select.Parameters.AddWithValue(ChunkSize);
        await using var reader = await select.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) ids.Add(reader.GetGuid(0));
        return ids;
    }
}
