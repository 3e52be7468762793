using Npgsql;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Mappings;

/// <summary>The saved column mapping a file is read with.</summary>
internal static class FindMapping
{
    /// <summary>By the name the sender gave; else, where the header is not ours, by the header. Null: the columns are ours, or
    /// unknown.</summary>
    /// <exception cref="UnreadableFileException">The site has no mapping of this name, or several of this header and none was
    /// named.</exception>
    public static async Task<SavedMapping?> ForAsync(NpgsqlConnection connection, SentFile sent, IReadOnlyList<string> header,
        CancellationToken ct)
    {
        if (sent.Mapping is null && header.All(n => Codes.TryParse<Field>(n, out _))) return null;
        await using var command = new NpgsqlCommand(
            $"""
            select id, name, version, document::text from ({InForceSql}) m
             where site_id = $1 and ($2::text is null or lower(name) = lower($2)) and ($2::text is not null or header_sha256 = $3)
             order by name limit 5
            """, connection);
        command.Parameters.AddWithValue(sent.SiteId.Value);
        command.Parameters.Add(
            new NpgsqlParameter { Value = (object?)sent.Mapping?.Trim() ?? DBNull.Value, NpgsqlDbType = NpgsqlTypes.NpgsqlDbType.Text });
        command.Parameters.AddWithValue(ColumnMapping.Sha256Of(header));
        await using var reader = await command.ExecuteReaderAsync(ct);
        var found = new List<SavedMapping>();
        while (await reader.ReadAsync(ct)) found.Add(Read(reader));
        if (found.Count == 1) return found[0];
        if (found.Count > 1) throw new UnreadableFileException(0, "mapping",
            $"several column mappings of the site have this header; name one: {string.Join(", ", found.Select(m => m.Name))}");
        return sent.Mapping is null ? null : throw new UnreadableFileException(0, "mapping", "the site has no column mapping of this name");
    }

    /// <summary>The newest version of each mapping, unless it is out of use.</summary>
    internal const string InForceSql =
        "select * from (select distinct on (mapping_id) * from column_mapping_versions order by mapping_id, version desc) newest where "
            + "not retired";

    /// <summary>A version's id, name, version and document, from a column on.</summary>
    internal static SavedMapping Read(NpgsqlDataReader reader, int from = 0) => new(
        reader.GetGuid(from), reader.GetString(from + 1), reader.GetInt32(from + 2), ColumnMapping.FromJson(reader.GetString(from + 3)));
}
