using Microsoft.EntityFrameworkCore;
using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality.Equipment;

/// <summary>One instrument, probe or screener of a site.</summary>
/// <param name="Name">As tests name it; a screener elsewhere than at the own site by pseudonym.</param>
/// <param name="First">Day of the first test; null when none is known.</param>
/// <param name="Checked">Last calibrated; of a screener, last time their competency was checked.</param>
/// <param name="DueOn">The next calibration; null when none was recorded, or for what is away.</param>
/// <param name="Away">Lent out, or used no more.</param>
public sealed record EquipmentLine(
    QualityUnitKind Unit, string Name, DateOnly? First, DateOnly? Last, int Tests, DateOnly? Checked, DateOnly? DueOn, bool Away);

/// <summary>An event with names for ids.</summary>
public sealed record EventLine(EquipmentEvent Event, string Name, string Who, string? Said, bool MayTakeBack);

/// <summary>A site's equipment and what happened to it.</summary>
/// <param name="Screeners">Null for whoever may not see them.</param>
public sealed record ShownEquipment(
    Site Site, IReadOnlyList<EquipmentLine> Equipment, IReadOnlyList<EquipmentLine>? Screeners, IReadOnlyList<EventLine> Events,
    int CalibrationMonths, bool MayRecordScreeners);

/// <summary>Shows a site's instruments and probes with their history, and to its manager and the coordinators its screeners'.</summary>
public sealed class ShowEquipment(
    RegistryDb db, NpgsqlDataSource source, ListEvents events, NameScreeners names, PolicyStore policies, ProgramClock clock, Viewer viewer)
{
    private static readonly string Sql = EmbeddedSql.Of<ShowEquipment>();

    /// <returns>Null for a site the viewer may not see, as for one that does not exist.</returns>
    public async Task<ShownEquipment?> AsOfAsync(string code, DateOnly asOf, CancellationToken ct)
    {
        var site = await db.Sites.AsNoTracking().FirstOrDefaultAsync(s => s.Code == code, ct);
        if (site is null || !viewer.MaySee(site.Id)) return null;
        var policy = await policies.InForceAsync(asOf, ct);
        var happened = await events.OfSiteAsync(site.Id, asOf, ct);
        var used = await UsedAsync(site.Id, asOf, ct);
        var ofUnit = happened.ToLookup(e => (e.Unit, e.Name));
        List<EquipmentLine> lines =
        [
            .. used.Keys.Union(ofUnit.Select(g => g.Key)).OrderBy(k => k.Unit).ThenBy(k => k.Name, StringComparer.Ordinal).Select(key =>
            {
                var test = used.GetValueOrDefault(key);
                var away = ListEvents.IsAway(ofUnit[key]);
                var last = ofUnit[key].Where(e => e.Kind is EquipmentEventKind.Calibrated or EquipmentEventKind.CompetencyChecked)
                    .Max(e => (DateOnly?)e.Day);
                DateOnly? due = key.Unit == QualityUnitKind.Screener || away || last is null ? null : ListEvents.DueOn(last.Value, policy);
                return new EquipmentLine(key.Unit, key.Name, test?.First, test?.Last, test?.Tests ?? 0, last, due, away);
            }),
        ];
        var sees = viewer.IsCoordinator || viewer.IsSiteManager;
        var people = await PeopleAsync(happened, ct);
        return new(site, [.. lines.Where(l => l.Unit != QualityUnitKind.Screener)],
            !sees ? null : [.. lines.Where(l => l.Unit == QualityUnitKind.Screener)
                .Select(l => l with { Name = names.Of(site.Id, l.Name) })],
            [.. happened.Where(e => sees || e.Unit != QualityUnitKind.Screener).Select(e => new EventLine(e,
                e.Unit == QualityUnitKind.Screener ? names.Of(site.Id, e.Name) : e.Name, people.GetValueOrDefault(e.RecordedBy, ""),
                ListEvents.Said(e), RecordEvent.MayTakeBack(viewer, e)))],
            policy.CalibrationMonths, viewer.IsSiteManager);
    }

    private async Task<Dictionary<Guid, string>> PeopleAsync(IEnumerable<EquipmentEvent> happened, CancellationToken ct)
    {
        var ids = happened.Select(e => e.RecordedBy).Distinct().ToList();
        return await db.Users.AsNoTracking().Where(p => ids.Contains(p.Id)).ToDictionaryAsync(p => p.Id, p => p.DisplayName, ct);
    }

    private async Task<Dictionary<(QualityUnitKind Unit, string Name), UsedDays>> UsedAsync(
        SiteId site, DateOnly asOf, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("site", site.Value);
        command.Parameters.AddNullable("as_of", asOf == clock.Today ? null : asOf, NpgsqlDbType.Date);
        await using var r = await command.ExecuteReaderAsync(ct);
        var used = new Dictionary<(QualityUnitKind, string), UsedDays>();
        while (await r.ReadAsync(ct)) used[(r.Code<QualityUnitKind>(0), r.GetString(1))] = new(r.Date(2), r.Date(3), r.GetInt32(4));
        return used;
    }

    private sealed record UsedDays(DateOnly First, DateOnly Last, int Tests);
}
