using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Rows;

/// <summary>The region's sites as rows name them: by code, and which of them are vital-records offices or early-intervention programs.
/// Every check of rows reads this list, as it is at that moment.</summary>
internal sealed record KnownSites(IReadOnlyDictionary<string, Guid> ByCode, IReadOnlySet<Guid> VitalRecords, IReadOnlySet<Guid> Programs)
{
    public static async Task<KnownSites> ReadAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        var byCode = new Dictionary<string, Guid>(StringComparer.OrdinalIgnoreCase);
        var (vitalRecords, programs) = (new HashSet<Guid>(), new HashSet<Guid>());
        await using var command = new NpgsqlCommand("select code, id, kind from sites", connection);
        await using var reader = await command.ExecuteReaderAsync(ct);
        while (await reader.ReadAsync(ct))
        {
            var id = reader.GetGuid(1);
            byCode[reader.GetString(0)] = id;
            var kind = reader.Code<SiteKind>(2);
            if (kind == SiteKind.VitalRecords) vitalRecords.Add(id);
            if (kind == SiteKind.InterventionProgram) programs.Add(id);
        }

        return new(byCode, vitalRecords, programs);
    }

    /// <summary>Checks the rows a site sent at a moment.</summary>
    public CheckRow Check(ProgramClock clock, DateTimeOffset receivedAt, SiteId sender) =>
        new(clock.DateOf(receivedAt), ByCode, VitalRecords.Contains(sender.Value)) { Zone = clock.Zone, Programs = Programs };
}
