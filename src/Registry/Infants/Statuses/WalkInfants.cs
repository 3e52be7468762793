using System.Runtime.CompilerServices;
using Npgsql;
using Registry.Facts;

namespace Registry.Infants.Statuses;

/// <summary>Everyone with the facts known at a moment, or those born since a day, chunk by chunk, in id order.</summary>
public static class WalkInfants
{
    private const int ChunkSize = 2_000;
    private const string Everyone = "select id from infants where id > $1 order by id limit $2";
    private const string BornSince = "select i.id from infants i where i.id > $1 and exists (select from births b where b.infant_id = i.id "
        + "and b.superseded_at is null and b.born_on >= $3) order by i.id limit $2";

    /// <remarks>A chunk may hold fewer infants than it counts: those whose birth was not known then are left out.</remarks>
    public static async IAsyncEnumerable<IReadOnlyList<KnownInfant>> KnownAtAsync(
        NpgsqlConnection connection, DateTimeOffset known, DateOnly? bornSince, [EnumeratorCancellation] CancellationToken ct)
    {
        for (var ids = await NextAsync(connection, Guid.Empty, bornSince, ct); ids.Count > 0;
            ids = await NextAsync(connection, ids[^1], bornSince, ct))
            yield return await FactsForRules.KnownAtAsync(connection, ids, known, ct);
    }

    private static async Task<List<Guid>> NextAsync(NpgsqlConnection connection, Guid after, DateOnly? bornSince, CancellationToken ct)
    {
        var ids = new List<Guid>(ChunkSize);
        await using var select = new NpgsqlCommand(bornSince is null ? Everyone : BornSince, connection);
        select.Parameters.AddWithValue(after);
        select.Parameters.AddWithValue(ChunkSize);
        if (bornSince is { } day) select.Parameters.AddWithValue(day);
        await using var reader = await select.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) ids.Add(reader.GetGuid(0));
        return ids;
    }
}
