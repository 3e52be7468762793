using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.SiteDirectory;

/// <summary>One change of a place, as the database kept it.</summary>
/// <param name="At">When.</param>
/// <param name="Who">By whom; null: not on a page.</param>
/// <param name="Differences">Column, what was, what became.</param>
public sealed record PlaceChange(DateTimeOffset At, string? Who, IReadOnlyList<(string Column, string? Before, string? After)> Differences);

/// <summary>Every site, clinic and program, and what one of them was before.</summary>
public sealed class ListPlaces(RegistryDb db, NpgsqlDataSource source)
{
    private static readonly HashSet<string> NotSaid = ["id", "changed_by", "active"];

    /// <summary>The open ones first, by name.</summary>
    public async Task<IReadOnlyList<Site>> AllAsync(CancellationToken ct) =>
        await db.Sites.AsNoTracking().OrderBy(s => !s.Active).ThenBy(s => s.Name).ToListAsync(ct);

    /// <summary>The newest first.</summary>
    public async Task<IReadOnlyList<PlaceChange>> HistoryAsync(SiteId site, CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            """
            select c.at, p.display_name, c.before::text, c.after::text
              from site_changes c left join people p on p.id = (c.after ->> 'changed_by')::uuid
             where c.site_id = $1 order by c.id desc limit 100
            """);
        command.Parameters.AddWithValue(site.Value);
        await using var r = await command.ExecuteReaderAsync(ct);
        var changes = new List<PlaceChange>();
        while (await r.ReadAsync(ct)) changes.Add(new(r.Moment(0), r.TextOrNull(1), Differences(r.TextOrNull(2), r.GetString(3))));
        return changes;
    }

    private static List<(string Column, string? Before, string? After)> Differences(string? before, string after)
    {
        var (was, became) = (Values(before), Values(after));
        return [.. became.Where(a => !NotSaid.Contains(a.Key) && was.GetValueOrDefault(a.Key) != a.Value)
            .Select(a => (a.Key, was.GetValueOrDefault(a.Key), a.Value)).OrderBy(d => d.Key, StringComparer.Ordinal)];
    }

    private static Dictionary<string, string?> Values(string? json)
    {
        if (json is null) return [];
        using var document = JsonDocument.Parse(json);
        return document.RootElement.EnumerateObject().ToDictionary(p => p.Name, p => p.Value.ValueKind switch
        {
            JsonValueKind.Null => null,
            JsonValueKind.String => p.Value.GetString() is { Length: > 0 } text ? text : null,
            JsonValueKind.Array => p.Value.GetArrayLength() == 0 ? null
                : string.Join("; ", p.Value.EnumerateArray().Select(v => v.ToString())),
            _ => p.Value.ToString(),
        });
    }
}
