using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Openings;

/// <summary>An opening of a clinic, and who took its places.</summary>
public sealed record OpeningLine(Guid Id, StatedOpening Opening, IReadOnlyList<(InfantId Id, string Name)> Taken)
{
    public int Left => Math.Max(0, Opening.Capacity - Taken.Count);
}

/// <summary>The openings of a clinic from today on, the soonest first.</summary>
public sealed class ListOpenings(RegistryDb db, ViewerDatabase data, ProgramClock clock, Viewer viewer)
{
    /// <summary>More are not shown.</summary>
    public const int Most = 200;

    private static readonly string Sql = EmbeddedSql.Of<ListOpenings>()
        .Replace("{visible}", Visibility.Where("k.infant_id"), StringComparison.Ordinal);

    public async Task<IReadOnlyList<OpeningLine>> OfAsync(SiteId clinic, int most, CancellationToken ct)
    {
        // That there is an opening says nothing of a person; who took it does.
        var openings = await db.ClinicOpenings.AsNoTracking()
            .Where(o => o.SiteId == clinic && o.WithdrawnAt == null && o.OpensOn >= clock.Today)
            .OrderBy(o => o.OpensOn).ThenBy(o => o.StartsAt).ThenBy(o => o.Id).Take(most).ToListAsync(ct);
        if (openings.Count == 0) return [];
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = new NpgsqlCommand(Sql, connection);
        Visibility.Bind(command, viewer);
        command.Parameters.AddWithValue("ids", openings.ConvertAll(o => o.Id));
        command.Parameters.AddWithValue("steps", openings.ConvertAll(o => Codes.Of(o.Step)));
        command.Parameters.AddWithValue("days", openings.ConvertAll(o => o.OpensOn));
        command.Parameters.AddWithValue("times", openings.ConvertAll(o => o.StartsAt));
        command.Parameters.AddWithValue("minutes", openings.ConvertAll(o => o.Minutes));
        command.Parameters.AddWithValue("capacities", openings.ConvertAll(o => o.Capacity));
        var lines = new List<(Guid Id, StatedOpening Opening, (InfantId, string)? Taken)>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
            lines.Add((r.GetGuid(0), new(r.Date(2), r.GetFieldValue<TimeOnly>(3), r.GetInt32(4), r.GetInt32(5), r.Code<PathStep>(1)),
                r.IsDBNull(6) ? null : (new(r.GetGuid(6)), Name(r))));
        return [.. lines.GroupBy(l => (l.Id, l.Opening)).Select(g => new OpeningLine(
            g.Key.Id, g.Key.Opening, [.. g.Select(l => l.Taken).OfType<(InfantId, string)>()]))];
    }

    private static string Name(NpgsqlDataReader r)
    {
        var (child, mother) = ($"{r.TextOrNull(7)} {r.TextOrNull(8)}".Trim(), $"{r.TextOrNull(9)} {r.TextOrNull(10)}".Trim());
        return mother.Length > 0 ? mother : child.Length > 0 ? child : OpeningWords.NoName;
    }
}
