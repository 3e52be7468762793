using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Formats;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Mappings;

/// <summary>A version of a site's column mapping as it is shown.</summary>
public sealed record MappingVersion(
    Guid VersionId, Guid MappingId, int Version, SiteId SiteId, string SiteName, string Name, bool Retired, DateTimeOffset CreatedAt,
    string CreatedBy, ColumnMapping Mapping, long Submissions);

/// <summary>Lists column mappings and their versions. Whether the caller may see them is asked by the caller.</summary>
public sealed class ReadMappings(NpgsqlDataSource source)
{
    /// <summary>The newest version of each mapping of a site, or with null of all sites; those out of use last.</summary>
    public Task<IReadOnlyList<MappingVersion>> ListAsync(SiteId? site, CancellationToken ct) => ReadAsync(site?.Value, null, ct);

    /// <summary>The versions of one mapping, newest first.</summary>
    public Task<IReadOnlyList<MappingVersion>> HistoryAsync(Guid mappingId, CancellationToken ct) => ReadAsync(null, mappingId, ct);

    /// <summary>Names of other mappings of the site in force with the same header: a file with it must then name one.</summary>
    public async Task<IReadOnlyList<string>> OfSameHeaderAsync(Guid mappingId, CancellationToken ct)
    {
        await using var command = source.CreateCommand(FindMapping.OverInForce("MappingsOfSameHeader"));
        command.Parameters.AddWithValue(mappingId);
        var names = new List<string>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) names.Add(r.GetString(0));
        return names;
    }

    private async Task<IReadOnlyList<MappingVersion>> ReadAsync(Guid? site, Guid? mapping, CancellationToken ct)
    {
        await using var command = source.CreateCommand(EmbeddedSql.Of<ReadMappings>());
        command.Parameters.AddNullable("site", site, NpgsqlDbType.Uuid);
        command.Parameters.AddNullable("mapping", mapping, NpgsqlDbType.Uuid);
        var versions = new List<MappingVersion>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            versions.Add(new(
                r.GetGuid(0), r.GetGuid(1), r.GetInt32(2), new(r.GetGuid(3)), r.GetString(4), r.GetString(5), r.GetBoolean(6), r.Moment(7),
                r.GetString(8), ColumnMapping.FromJson(r.GetString(9)), r.GetInt64(10)));
        }

        return versions;
    }
}
