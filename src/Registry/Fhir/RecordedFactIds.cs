using Npgsql;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;

namespace Registry.Fhir;

/// <summary>Ids of the facts a submission's rows made: where each can be read.</summary>
public static class RecordedFactIds
{
    private static readonly string Sql = EmbeddedSql.Read(typeof(RecordedFactIds), nameof(RecordedFactIds));

    public static async Task<IReadOnlyDictionary<int, Guid>> LoadAsync(
        NpgsqlDataSource source, SubmissionId id, IReadOnlyList<RowReport> rows, CancellationToken ct)
    {
        var infants = rows.Where(r => r.InfantId is not null).Select(r => r.InfantId!.Value.Value).Distinct().ToArray();
        var ids = new Dictionary<int, Guid>();
        if (infants.Length == 0) return ids;
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue(infants);
        command.Parameters.AddWithValue(id.Value);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct)) ids.TryAdd(reader.GetInt32(0), reader.GetGuid(1));
        return ids;
    }
}
