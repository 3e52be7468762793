using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>One instrument, probe or screener of a site.</summary>
/// <param name="Name">As its tests name it; a screener elsewhere than at the own site by pseudonym.</param>
/// <param name="Line">What is counted of it; null without a test in the period.</param>
/// <param name="Others">The others of its kind at the site, together.</param>
/// <param name="Weeks">By day of test, with what was done to it and to what it is used with.</param>
/// <param name="Findings">What stands against it.</param>
public sealed record ShownUnit(
    Site Site, ScreensAsked Asked, DateOnly AsOf, ScreenGrouping Kind, string Name, UnitLine? Line, ScreenCounts Others,
    ScreeningWeeks Weeks, IReadOnlyList<FoundUnit> Findings)
{
    /// <summary>Since when it stands out in such a measure; null when it does not.</summary>
    public DateOnly? Onset(params SessionMeasure[] measures) =>
        Findings.Where(f => measures.Contains(f.Finding.Measure)).Select(f => (DateOnly?)f.Finding.Named.OnsetOn).Min();
}

/// <summary>Shows one unit of a site week by week, flagged or not.</summary>
public sealed class ShowUnit(
    RegistryDb db, CountScreens count, ReadUnits read, AskScreens ask, ReadFoundUnits found, ReadMarks marks, NameScreeners names,
    Viewer viewer)
{
    public static readonly ScreenGrouping[] Kinds = [ScreenGrouping.Instrument, ScreenGrouping.Probe, ScreenGrouping.Screener];

    /// <param name="code">The site's.</param>
    /// <param name="kind">One of <see cref="Kinds"/>.</param>
    /// <param name="name">As tests name it; a screener by pseudonym.</param>
    /// <param name="period">Days of test.</param>
    /// <param name="asOf">The day.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Null for a site the viewer may not see and for a unit that no test of it names, as for what does not exist.</returns>
    public async Task<ShownUnit?> AsOfAsync(
        string code, ScreenGrouping kind, string name, Period period, DateOnly asOf, CancellationToken ct)
    {
        var site = await db.Sites.AsNoTracking().FirstOrDefaultAsync(s => s.Code == code, ct);
        if (site is null || !viewer.MaySee(site.Id) || !Kinds.Contains(kind) || name.Length == 0) return null;
        var asked = await ask.AsOfAsync(period, CountedDay.Test, site.Id, asOf, ct);
        var lines = await read.RunAsync(ReadUnits.StandingAsync(db, asked, ct), kind, asked, ct);
        if (lines.FirstOrDefault(l => IsNamed(site.Id, l.Counts.Unit, kind, name)) is not { } line)
            return await WithoutTestsAsync(site, asked, asOf, kind, name, ct);
        var unit = line.Counts.Unit;
        var done = await marks.WithUsedTogetherAsync(await marks.OfSiteAsync(site.Id, asOf, ct), site.Id, period.From, ct);
        var days = (await count.ByDayAsync(kind, asked, ct)).Where(d => d.Counts.Unit == unit);
        var shown = Shown(site, unit, kind);
        return new(
            site, asked, asOf, kind, shown,
            line with { Counts = line.Counts with { Unit = shown }, Findings = [.. line.Findings.Select(names.Of)] },
            ScreenCounts.Sum(site.Id, "", lines.Where(l => l != line).Select(l => l.Counts)),
            ScreeningWeeks.Of(days) with
            {
                Marks = [.. done.Where(m => m.ConcernsPart(Cause(kind), unit) || line.Findings.Any(m.Concerns))],
            },
            await found.RunAsync(line.Findings, asked, done, ct));
    }

    /// <summary>What was used at another time.</summary>
    private async Task<ShownUnit?> WithoutTestsAsync(
        Site site, ScreensAsked asked, DateOnly asOf, ScreenGrouping kind, string name, CancellationToken ct)
    {
        var ever = await count.ByAsync(kind, asked with { Period = new(asOf.AddYears(-20), asOf) }, ct);
        var unit = ever.FirstOrDefault(c => IsNamed(site.Id, c.Unit, kind, name))?.Unit;
        return unit is null ? null
            : new(site, asked, asOf, kind, Shown(site, unit, kind), null, ScreenCounts.Sum(site.Id, "", []), ScreeningWeeks.Of([]), []);
    }

    private static bool IsNamed(SiteId site, string unit, ScreenGrouping kind, string name) =>
        unit.Length > 0 && (kind == ScreenGrouping.Screener ? NameScreeners.Pseudonym(site, unit) : unit) == name;

    private string Shown(Site site, string unit, ScreenGrouping kind) => kind == ScreenGrouping.Screener ? names.Of(site.Id, unit) : unit;

    private static CauseKind Cause(ScreenGrouping kind) => kind switch
    {
        ScreenGrouping.Instrument => CauseKind.Instrument,
        ScreenGrouping.Probe => CauseKind.Probe,
        _ => CauseKind.Screener,
    };
}
