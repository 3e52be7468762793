using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Formats;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Mappings;

/// <summary>Why a mapping was not saved.</summary>
public enum MappingRefusal { NameTaken, SavedMeanwhile }

/// <summary>What saving did: the new version, or why there is none.</summary>
public sealed record SavedVersion(Guid MappingId, int Version, MappingRefusal? Refusal);

/// <summary>Adds versions of column mappings. Nothing is changed or deleted: an earlier version is put in force by adding it
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
        var (mappingId, before) = (edited?.MappingId ?? Guid.CreateVersion7(), edited?.Version ?? 0);
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        await AdvisoryLock.ForTransactionAsync(connection, LockedThing.ColumnMappings, site.Value.ToString(), ct);
        if (!retired && await IsNameTakenAsync(connection, site, name, mappingId, ct)) return new(mappingId, 0, MappingRefusal.NameTaken);
        if (await NewestAsync(connection, mappingId, ct) != before) return new(mappingId, 0, MappingRefusal.SavedMeanwhile);

        await using var insert = new NpgsqlCommand(EmbeddedSql.Of<SaveMapping>(), connection);
        insert.Parameters.AddWithValue(Guid.CreateVersion7());
        insert.Parameters.AddWithValue(mappingId);
        insert.Parameters.AddWithValue(before + 1);
        insert.Parameters.AddWithValue(site.Value);
        insert.Parameters.AddWithValue(name);
        insert.Parameters.AddWithValue(ColumnMapping.Sha256Of([.. mapping.Columns.Select(c => c.Header)]));
        insert.Parameters.AddNullable(mapping.ToJson(), NpgsqlDbType.Jsonb);
        insert.Parameters.AddWithValue(retired);
        insert.Parameters.AddWithValue(clock.Now.ToUniversalTime());
        insert.Parameters.AddWithValue(person);
        await insert.ExecuteNonQueryAsync(ct);
        await transaction.CommitAsync(ct);
        return new(mappingId, before + 1, null);
    }

    private static async Task<bool> IsNameTakenAsync(
        NpgsqlConnection connection, SiteId site, string name, Guid mappingId, CancellationToken ct)
    {
        await using var taken = new NpgsqlCommand(FindMapping.OverInForce("MappingNameTaken"), connection);
        taken.Parameters.AddWithValue(site.Value);
        taken.Parameters.AddWithValue(name);
        taken.Parameters.AddWithValue(mappingId);
        return (bool)(await taken.ExecuteScalarAsync(ct))!;
    }

    private static async Task<int> NewestAsync(NpgsqlConnection connection, Guid mappingId, CancellationToken ct)
    {
        await using var newest = new NpgsqlCommand(
            "select coalesce(max(version), 0) from column_mapping_versions where mapping_id = $1", connection);
        newest.Parameters.AddWithValue(mappingId);
        return (int)(await newest.ExecuteScalarAsync(ct))!;
    }
}
