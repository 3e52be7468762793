using Npgsql;
using Registry.Platform;

namespace Registry.Operations.Backup;

/// <summary>A table of an archive and its columns, as SQL names them.</summary>
public sealed record ArchivedTable(string Name, string[] Columns)
{
    public string CopyOut => $"copy {Name} ({string.Join(", ", Columns)}) to stdout";
    public string CopyIn => $"copy {Name} ({string.Join(", ", Columns)}) from stdin";
}

/// <summary>What an archive begins with.</summary>
/// <param name="Format">1.</param>
/// <param name="Migration">The schema: only a program of the same one reads it.</param>
/// <param name="TakenAt">The moment whose state it holds.</param>
/// <param name="Tables">In the order they can be filled.</param>
/// <param name="Sequences">Where each continues.</param>
public sealed record Manifest(
    int Format, string Migration, DateTimeOffset TakenAt, IReadOnlyList<ArchivedTable> Tables, IReadOnlyDictionary<string, long> Sequences);

internal static class ArchivedTables
{
    private static readonly string Sql = EmbeddedSql.Read(typeof(ArchivedTables), "ListTables");

    /// <summary>The tables of a database, those first that others refer to.</summary>
    public static async Task<IReadOnlyList<ArchivedTable>> ReadAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        var left = new List<(ArchivedTable Table, string[] RefersTo)>();
        await using (var command = new NpgsqlCommand(Sql, connection))
        {
            await using var reader = await command.ExecuteReaderAsync(ct);
            while (await reader.ReadAsync(ct))
                left.Add((new(reader.GetString(0), reader.GetFieldValue<string[]>(1)), reader.GetFieldValue<string[]>(2)));
        }

        var ordered = new List<ArchivedTable>(left.Count);
        while (left.Count > 0)
        {
            var ready = left.Where(t => !t.RefersTo.Any(r => left.Any(l => l.Table.Name == r))).ToList();
            if (ready.Count == 0)
                throw new InvalidOperationException(
                    $"Tables refer to each other in a circle: {string.Join(", ", left.Select(t => t.Table.Name))}.");
            ordered.AddRange(ready.Select(r => r.Table));
            left.RemoveAll(ready.Contains);
        }

        return ordered;
    }

    public static async Task<Dictionary<string, long>> SequencesAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        var sequences = new Dictionary<string, long>();
        await using var command = new NpgsqlCommand(
            "select quote_ident(sequencename), last_value from pg_sequences where schemaname = 'public' and last_value is not null",
            connection);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) sequences.Add(reader.GetString(0), reader.GetInt64(1));
        return sequences;
    }
}
