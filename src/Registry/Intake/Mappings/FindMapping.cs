using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Formats;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
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
        await using var command = new NpgsqlCommand(OverInForce("FindMapping"), connection);
        command.Parameters.AddWithValue(sent.SiteId.Value);
        command.Parameters.AddNullable(sent.Mapping?.Trim(), NpgsqlDbType.Text);
        command.Parameters.AddWithValue(ColumnMapping.Sha256Of(header));
        await using var reader = await command.ExecuteReaderAsync(ct);
        var found = new List<SavedMapping>();
        while (await reader.ReadAsync(ct)) found.Add(Read(reader));
        if (found.Count == 1) return found[0];
        if (found.Count > 1) throw new UnreadableFileException(0, "mapping",
            $"several column mappings of the site have this header; name one: {string.Join(", ", found.Select(m => m.Name))}");
        return sent.Mapping is null ? null : throw new UnreadableFileException(0, "mapping", "the site has no column mapping of this name");
    }

    /// <summary>A statement over the mappings in force.</summary>
    internal static string OverInForce(string name) =>
        $"with in_force as (\n{EmbeddedSql.Read(typeof(FindMapping), "MappingsInForce")})\n{EmbeddedSql.Read(typeof(FindMapping), name)}";

    /// <summary>A version's id, name, version and document, from a column on.</summary>
    internal static SavedMapping Read(NpgsqlDataReader reader, int from = 0) => new(
        reader.GetGuid(from), reader.GetString(from + 1), reader.GetInt32(from + 2), ColumnMapping.FromJson(reader.GetString(from + 3)));
}
