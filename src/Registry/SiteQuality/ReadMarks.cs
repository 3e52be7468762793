using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality.Equipment;
using Registry.SiteQuality.Flags;

namespace Registry.SiteQuality;

/// <summary>Something people did on a day: to a part of the site's equipment, or about a flag.</summary>
/// <param name="Words">What.</param>
/// <param name="Event">What was entered of the equipment; null for what was done about a flag.</param>
/// <param name="Flag">The flag; null for an event.</param>
public sealed record ChartMark(DateOnly Day, string Words, EquipmentEvent? Event, Guid? Flag)
{
    /// <summary>Of an instrument the probes it was used with, of a probe the instruments.</summary>
    public IReadOnlySet<string> UsedWith { get; init; } = new HashSet<string>();

    /// <summary>It was done about this flag, or to the part it names.</summary>
    public bool Concerns(QualityFinding finding) =>
        Event is null ? Flag == finding.Id : ConcernsPart(finding.Named.Part.Kind, finding.Named.Part.Code);

    /// <summary>It was done to this part, or to one it is used with: the probe of an instrument was exchanged. To any equipment where no
    /// part is named.</summary>
    public bool ConcernsPart(CauseKind cause, string name) => Event is { } done && cause switch
    {
        CauseKind.Instrument => done.Unit == QualityUnitKind.Instrument && done.Name == name
            || done.Unit == QualityUnitKind.Probe && UsedWith.Contains(name),
        CauseKind.Probe => done.Unit == QualityUnitKind.Probe && done.Name == name
            || done.Unit == QualityUnitKind.Instrument && UsedWith.Contains(name),
        CauseKind.Screener => done.Unit == QualityUnitKind.Screener && done.Name == name,
        _ => done.Unit != QualityUnitKind.Screener,
    };

    /// <summary>It may stand on the charts of the whole site: what a screener showed is for the manager and the coordinators.</summary>
    public bool IsOfSite => Event is not { Unit: QualityUnitKind.Screener };
}

/// <summary>Reads what people did at a site, for the charts of its weeks.</summary>
public sealed class ReadMarks(
    RegistryDb db, NpgsqlDataSource source, ListEvents events, NameScreeners names, ProgramClock clock, Viewer viewer)
{
    private const string TogetherSql =
        """
        select distinct t.instrument, t.probe from counted_tests t
         where t.site_id = $1 and t.performed_at >= $2 and t.known_until is null and t.instrument is not null and t.probe is not null
        """;

    /// <returns>As known at the end of a day, in order. What people did about flags, and what screeners showed, is for the manager and the
    /// coordinators.</returns>
    public async Task<IReadOnlyList<ChartMark>> OfSiteAsync(SiteId site, DateOnly asOf, CancellationToken ct)
    {
        var done = (await events.OfSiteAsync(site, asOf, ct)).Select(e => new ChartMark(e.Day, EquipmentWords.Happened(e), e, null));
        return viewer.IsCoordinator || viewer.IsSiteManager ? [.. done.Concat(await AboutFlagsAsync(site, asOf, ct)).OrderBy(m => m.Day)]
            : [.. done.Where(m => m.IsOfSite).OrderBy(m => m.Day)];
    }

    /// <summary>The marks, with what each part was used with since a day.</summary>
    public async Task<IReadOnlyList<ChartMark>> WithUsedTogetherAsync(
        IReadOnlyList<ChartMark> marks, SiteId site, DateOnly from, CancellationToken ct)
    {
        if (!marks.Any(m => m.Event is { Unit: QualityUnitKind.Instrument or QualityUnitKind.Probe })) return marks;
        await using var command = source.CreateCommand(TogetherSql);
        command.Parameters.AddWithValue(site.Value);
        command.Parameters.AddWithValue(from);
        await using var r = await command.ExecuteReaderAsync(ct);
        var pairs = new List<(string Instrument, string Probe)>();
        while (await r.ReadAsync(ct)) pairs.Add((r.GetString(0), r.GetString(1)));
        var probes = pairs.ToLookup(p => p.Instrument, p => p.Probe);
        var instruments = pairs.ToLookup(p => p.Probe, p => p.Instrument);
        return [.. marks.Select(m => m.Event is { } e
            ? m with { UsedWith = (e.Unit == QualityUnitKind.Instrument ? probes : instruments)[e.Name].ToHashSet() } : m)];
    }

    private async Task<IEnumerable<ChartMark>> AboutFlagsAsync(SiteId site, DateOnly asOf, CancellationToken ct)
    {
        var until = clock.EndOf(asOf);
        var acts = await (
            from a in db.FlagActs.AsNoTracking()
            join f in db.QualityFindings on a.FindingId equals f.Id
            where f.SiteId == site && a.At <= until && (a.Kind == FlagActKind.Acted || a.Kind == FlagActKind.TakenBack)
            select new { Act = a, Flag = f }).ToListAsync(ct);
        var back = acts.Select(a => (a.Act.FindingId, a.Act.TakesBack)).ToHashSet();
        return acts.Where(a => a.Act is { Kind: FlagActKind.Acted, Day: not null } && !back.Contains((a.Act.FindingId, a.Act.Number)))
            .Select(a => new ChartMark(a.Act.Day!.Value,
                SiteWords.About(names.Of(a.Flag.KnownOn(asOf)), FieldKeys.OfProcess.Decrypt(a.Act.Words, ActOnFlag.WordsColumn) ?? ""),
                null, a.Flag.Id));
    }
}
