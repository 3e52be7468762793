using Npgsql;
using Registry.Intake.Formats;
using Registry.Intake.Mappings;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>A received submission: how its bytes become rows, and how far it is.</summary>
internal sealed record SubmissionToProcess(
    SubmissionId Id, SiteId SiteId, SubmissionState State, DateTimeOffset ReceivedAt, int Rows, int RowsDone, long Bytes, FileReading Read)
{
    private static readonly string Sql = EmbeddedSql.Of<SubmissionToProcess>();

    /// <returns>Null when there is no such submission.</returns>
    public static async Task<SubmissionToProcess?> FindAsync(NpgsqlConnection connection, SubmissionId id, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue(id.Value);
        await using var r = await command.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return null;
        var read = FileReading.Read(r, 6) with { Mapping = r.IsDBNull(11) ? null : FindMapping.Read(r, 11) };
        return new(
            id, new(r.GetGuid(0)), r.Code<SubmissionState>(1), r.Moment(2), r.GetInt32(3), r.GetInt32(4), r.GetInt64(5), read);
    }
}
