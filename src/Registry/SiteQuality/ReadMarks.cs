using Microsoft.EntityFrameworkCore;
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
    /// <summary>It was done about this flag, or to the part it names; to any equipment where it names none.</summary>
    public bool Concerns(QualityFinding finding) => Event is not { } done ? Flag == finding.Id : finding.Named.Part switch
    {
        { Kind: CauseKind.Instrument } part => done.Unit == QualityUnitKind.Instrument && done.Name == part.Code,
        { Kind: CauseKind.Probe } part => done.Unit == QualityUnitKind.Probe && done.Name == part.Code,
        { Kind: CauseKind.Screener } part => done.Unit == QualityUnitKind.Screener && done.Name == part.Code,
        _ => done.Unit != QualityUnitKind.Screener,
    };

    /// <summary>It may stand on the charts of the whole site: what a screener showed is for the manager and the coordinators.</summary>
    public bool IsOfSite => Event is not { Unit: QualityUnitKind.Screener };
}

/// <summary>Reads what people did at a site, for the charts of its weeks.</summary>
public sealed class ReadMarks(RegistryDb db, ListEvents events, NameScreeners names, ProgramClock clock, Viewer viewer)
{
    /// <returns>As known at the end of a day, in order. What people did about flags, and what screeners showed, is for the manager and the
    /// coordinators.</returns>
    public async Task<IReadOnlyList<ChartMark>> OfSiteAsync(SiteId site, DateOnly asOf, CancellationToken ct)
    {
        var done = (await events.OfSiteAsync(site, asOf, ct)).Select(e => new ChartMark(e.Day, EquipmentWords.Happened(e), e, null));
        return viewer.IsCoordinator || viewer.IsSiteManager ? [.. done.Concat(await AboutFlagsAsync(site, asOf, ct)).OrderBy(m => m.Day)]
            : [.. done.Where(m => m.IsOfSite).OrderBy(m => m.Day)];
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
