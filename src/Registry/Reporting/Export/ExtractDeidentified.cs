using System.Runtime.CompilerServices;
using Npgsql;
using Registry.Access;
using Registry.Platform;

namespace Registry.Reporting.Export;

/// <summary>The de-identified extract: a row an infant of the whole region, as statuses stand today, without anything that says who it is
/// or where it was born. Streamed, and in the trail before the first row.</summary>
public sealed class ExtractDeidentified(NpgsqlDataSource source, AuditActs audit)
{
    private static readonly string Sql = EmbeddedSql.Of<ExtractDeidentified>();

    public async Task<IAsyncEnumerable<object?[]>> RowsAsync(CancellationToken ct)
    {
        await using var count = source.CreateCommand("select count(*) from infant_status");
        await audit.RecordAsync(AccessKind.ExtractTaken, note: $"{await count.ExecuteScalarAsync(ct)} rows");
        return ReadAsync(CancellationToken.None);
    }

    private async IAsyncEnumerable<object?[]> ReadAsync([EnumeratorCancellation] CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        command.CommandTimeout = 0;
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            var row = new object?[reader.FieldCount];
            for (var i = 0; i < row.Length; i++) row[i] = reader.IsDBNull(i) ? null : reader.GetValue(i);
            yield return row;
        }
    }
}
