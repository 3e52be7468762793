using Npgsql;
using Registry.Records;

namespace Registry.Intake.Rows;

/// <summary>The region's sites by code, and which of them are vital-records offices.</summary>
internal sealed record KnownSites(IReadOnlyDictionary<string, Guid> ByCode, IReadOnlySet<Guid> VitalRecords)
{
    public static async Task<KnownSites> ReadAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        var sites = new Dictionary<string, Guid>(StringComparer.OrdinalIgnoreCase);
        var vital = new HashSet<Guid>();
        await using var command = new NpgsqlCommand("select code, id, kind = 'vital_records' from sites", connection);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            sites[reader.GetString(0)] = reader.GetGuid(1);
            if (reader.GetBoolean(2)) vital.Add(reader.GetGuid(1));
        }

        return new(sites, vital);
    }

    /// <summary>Checks the rows a site sent on a day.</summary>
    public CheckRow Check(DateOnly receivedOn, SiteId sender) => new(receivedOn, ByCode, VitalRecords.Contains(sender.Value));
}
