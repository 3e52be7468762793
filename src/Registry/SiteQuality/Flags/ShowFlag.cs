using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.SiteQuality.Flags;

/// <summary>An act with names for ids.</summary>
/// <param name="Said">In their own words; null without any.</param>
/// <param name="TakenBack">Somebody took it back later.</param>
public sealed record ActLine(FlagAct Act, string Who, string? Said, bool TakenBack);

/// <summary>A flag as its page shows it.</summary>
/// <param name="Unit">What it is of, with its weeks and what was done in them.</param>
/// <param name="Acts">What people did, in order.</param>
/// <param name="Others">Other flags of the same, the newest first.</param>
/// <param name="MayTakeBack">The last act is the viewer's, or the viewer a coordinator.</param>
public sealed record ShownFlag(
    Site Site, FoundUnit Unit, FlagStanding Standing, IReadOnlyList<ActLine> Acts, IReadOnlyList<QualityFinding> Others, bool MayTakeBack)
{
    public QualityFinding Flag => Unit.Finding;
}

/// <summary>Shows one flag: what was seen the night it was raised, how the weeks went on, what people did.</summary>
public sealed class ShowFlag(
    RegistryDb db, AskScreens ask, ReadFoundUnits units, ReadMarks marks, ProgramClock clock, Viewer viewer)
{
    private const int WeeksBefore = 26;

    /// <returns>Null for a flag of a site the viewer may not answer for, as for one that does not exist.</returns>
    public async Task<ShownFlag?> AsOfAsync(string code, Guid id, DateOnly asOf, CancellationToken ct)
    {
        if (await ActOnFlag.FindAsync(db, viewer, code, id, ct) is not { } flag || flag.RecordedOn > asOf) return null;
        flag = flag.KnownOn(asOf);
        var site = await db.Sites.AsNoTracking().SingleAsync(s => s.Id == flag.SiteId, ct);
        var until = clock.EndOf(asOf);
        var lines = await (
            from a in db.FlagActs.AsNoTracking()
            where a.FindingId == id && a.At <= until
            join p in db.Users on a.PersonId equals p.Id
            orderby a.Number
            select new { Act = a, p.DisplayName }).ToListAsync(ct);
        var back = lines.Select(l => l.Act.TakesBack).ToHashSet();
        List<ActLine> acts = [.. lines.Select(l => new ActLine(l.Act, l.DisplayName,
            FieldKeys.OfProcess.Decrypt(l.Act.Words, ActOnFlag.WordsColumn), back.Contains(l.Act.Number)))];
        var standing = FlagStanding.Of([.. lines.Select(l => l.Act)], clock.DateOf);
        var asked = await ask.AsOfAsync(new(flag.Named.OnsetFirst.AddDays(-7 * WeeksBefore), asOf), CountedDay.Test, site.Id, asOf, ct);
        var unit = (await units.RunAsync([flag], asked, await marks.OfSiteAsync(site.Id, asOf, ct), ct))[0];
        var (part, raised) = (flag.Named.Part, flag.Raised);
        var others = (await db.QualityFindings.AsNoTracking().Where(f => f.Id != id && f.SiteId == flag.SiteId && f.Measure == flag.Measure
            && f.Above == flag.Above && f.RecordedOn <= asOf).OrderByDescending(f => f.RecordedOn).ToListAsync(ct))
            .Where(f => f.Namings.Any(n => n.Part == part || n.Part == raised)).Take(10).ToList();
        return new(site, unit, standing, acts, others,
            standing.Last is { } last && (last.PersonId == viewer.PersonId || viewer.IsCoordinator));
    }
}
