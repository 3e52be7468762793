using Npgsql;
using Registry.Platform;
using Registry.Records;

namespace Registry.Facts;

/// <summary>Every fact of one infant as known at a moment, those that hold no more included.</summary>
public static class FactHistory
{
    private static readonly IReadOnlyList<string> Statements =
        [.. FactKinds.All.Select(k => k.Fill(EmbeddedSql.Read(typeof(FactHistory), nameof(FactHistory))))];

    /// <summary>In the order of the kinds. What was closed later than <paramref name="known"/> is given with the moment it was.</summary>
    public static async Task<IReadOnlyList<RecordedFact>> ReadAsync(
        NpgsqlConnection connection, InfantId infant, DateTimeOffset known, CancellationToken ct)
    {
        var facts = new List<RecordedFact>();
        await using var batch = new NpgsqlBatch(connection);
        foreach (var sql in Statements)
            batch.BatchCommands.Add(new(sql) { Parameters = { new("infant", infant.Value), new("known", known.ToUniversalTime()) } });
        await using var reader = await batch.ExecuteReaderAsync(ct);
        foreach (var kind in FactKinds.All)
        {
            while (await reader.ReadAsync(ct)) facts.Add(RecordedFact.Read(kind, reader));
            await reader.NextResultAsync(ct);
        }

        return facts;
    }
}
