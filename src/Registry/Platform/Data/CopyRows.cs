using Npgsql;

namespace Registry.Platform.Data;

/// <summary>Binary COPY of a list into a table.</summary>
internal static class CopyRows
{
    public static async Task RunAsync<T>(
        NpgsqlConnection connection, string copy, IReadOnlyCollection<T> rows, Action<NpgsqlBinaryImporter, T> write, CancellationToken ct)
    {
        if (rows.Count == 0) return;
        await using var importer = await connection.BeginBinaryImportAsync(copy, ct);
        foreach (var row in rows)
        {
            importer.StartRow();
            write(importer, row);
        }

        await importer.CompleteAsync(ct);
    }
}
