using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Formats;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Mappings;

/// <summary>A version of a site's column mapping as it is shown.</summary>
public sealed record MappingVersion(
    Guid VersionId, Guid MappingId, int Version, SiteId SiteId, string SiteName, string Name, bool Retired, DateTimeOffset CreatedAt,
    string CreatedBy,
    ColumnMapping Mapping, long Submissions);

/// <summary>Why a mapping was not saved.</summary>
public enum MappingRefusal { NameTaken, SavedMeanwhile }

/// <summary>What saving did: the new version, or why there is none.</summary>
public sealed record SavedVersion(Guid MappingId, int Version, MappingRefusal? Refusal);

/// <summary>Adds versions of column mappings and lists them. Nothing is changed or deleted: an undo adds an earlier version
/// again.</summary>
public sealed class SaveMapping(NpgsqlDataSource source, ProgramClock clock)
{
    /// <param name="edited">The version the edit began from; null for a new mapping.</param>
    /// <param name="site">Whose it is.</param>
    /// <param name="name">What senders call it.</param>
    /// <param name="mapping">Checked before: <see cref="ColumnMapping.Problems"/> has nothing to say.</param>
    /// <param name="person">Who saves.</param>
    /// <param name="ct">Cancels.</param>
    /// <param name="retired">Takes the mapping out of use.</param>
    public async Task<SavedVersion> SaveAsync(
        MappingVersion? edited, SiteId site, string name, ColumnMapping mapping, Guid person, CancellationToken ct, bool retired = false)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        await ExecuteAsync("select pg_advisory_xact_lock(hashtextextended($1, 13))", site.Value.ToString());
        var mappingId = edited?.MappingId ?? Guid.CreateVersion7();
        await using (var taken = new NpgsqlCommand(
            $"select exists (select from ({FindMapping.InForceSql}) m where site_id = $1 and lower(name) = lower($2) and mapping_id <> $3)",
            connection))
        {
            taken.Parameters.AddWithValue(site.Value);
            taken.Parameters.AddWithValue(name);
            taken.Parameters.AddWithValue(mappingId);
            if (!retired && (bool)(await taken.ExecuteScalarAsync(ct))!) return new(mappingId, 0, MappingRefusal.NameTaken);
        }

        await using (var newest = new NpgsqlCommand("select coalesce(max(version), 0) from column_mapping_versions where mapping_id = $1",
            connection))
        {
            newest.Parameters.AddWithValue(mappingId);
            if ((int)(await newest.ExecuteScalarAsync(ct))! != (edited?.Version ?? 0))
                return new(mappingId, 0, MappingRefusal.SavedMeanwhile);
        }

        var version = (edited?.Version ?? 0) + 1;
        await using var insert = new NpgsqlCommand(
            """
            insert into column_mapping_versions (id, mapping_id, version, site_id, name, header_sha256, document, retired, created_at, created_by)
            values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
            """, connection);
        insert.Parameters.AddWithValue(Guid.CreateVersion7());
        insert.Parameters.AddWithValue(mappingId);
        insert.Parameters.AddWithValue(version);
        insert.Parameters.AddWithValue(site.Value);
        insert.Parameters.AddWithValue(name);
        insert.Parameters.AddWithValue(ColumnMapping.Sha256Of([.. mapping.Columns.Select(c => c.Header)]));
        insert.Parameters.Add(new() { Value = mapping.ToJson(), NpgsqlDbType = NpgsqlDbType.Jsonb });
        insert.Parameters.AddWithValue(retired);
        insert.Parameters.AddWithValue(clock.Now);
        insert.Parameters.AddWithValue(person);
        await insert.ExecuteNonQueryAsync(ct);
        await transaction.CommitAsync(ct);
        return new(mappingId, version, null);

        async Task ExecuteAsync(string sql, string parameter)
        {
            await using var command = new NpgsqlCommand(sql, connection);
            command.Parameters.AddWithValue(parameter);
            await command.ExecuteNonQueryAsync(ct);
        }
    }

    /// <summary>The newest version of each mapping of a site, or with null of all sites; those out of use last.</summary>
    public Task<IReadOnlyList<MappingVersion>> ListAsync(SiteId? site, CancellationToken ct) => ReadAsync(
        """
        where ($1::uuid is null or m.site_id = $1) and m.version = (select max(n.version) from column_mapping_versions n where n.mapping_id = m.mapping_id)
         order by m.retired, s.name, lower(m.name)
        """, site?.Value, ct);

    /// <summary>The versions of one mapping, newest first.</summary>
    public Task<IReadOnlyList<MappingVersion>> HistoryAsync(Guid mappingId, CancellationToken ct) =>
        ReadAsync("where m.mapping_id = $1 order by m.version desc", mappingId, ct);

    /// <summary>Names of other mappings of the site in force with the same header: a file with it must then name one.</summary>
    public async Task<IReadOnlyList<string>> OfSameHeaderAsync(Guid mappingId, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"""
            with m as ({FindMapping.InForceSql})
            select other.name from m join m other using (site_id, header_sha256) where m.mapping_id = $1 and other.mapping_id <> $1 order by other.name
            """);
        command.Parameters.AddWithValue(mappingId);
        var names = new List<string>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) names.Add(r.GetString(0));
        return names;
    }

    private async Task<IReadOnlyList<MappingVersion>> ReadAsync(string where, Guid? parameter, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            $"""
            select m.id, m.mapping_id, m.version, m.site_id, s.name, m.name, m.retired, m.created_at, coalesce(p.display_name, ''), m.document::text,
                   (select count(*) from submissions x where x.mapping_version_id = m.id)
              from column_mapping_versions m join sites s on s.id = m.site_id left join people p on p.id = m.created_by
             {where}
            """);
        command.Parameters.Add(new() { Value = (object?)parameter ?? DBNull.Value, NpgsqlDbType = NpgsqlDbType.Uuid });
        var versions = new List<MappingVersion>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            versions.Add(new(
                r.GetGuid(0), r.GetGuid(1), r.GetInt32(2), new(r.GetGuid(3)), r.GetString(4), r.GetString(5), r.GetBoolean(6),
                r.GetFieldValue<DateTimeOffset>(7),
                r.GetString(8), ColumnMapping.FromJson(r.GetString(9)), r.GetInt64(10)));
        }

        return versions;
    }
}
