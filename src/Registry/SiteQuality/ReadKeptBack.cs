using Microsoft.EntityFrameworkCore;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>Whose results kept back, and whose bursts, are a mark of the site, and whether most sites carry it.</summary>
/// <param name="AsOf">The night that is judged; null: none yet, or a past day, of which sites are not compared.</param>
public sealed record KeptBackMarks(DateOnly? AsOf, StandingMarks KeptBack, StandingMarks Bursts)
{
    public static readonly KeptBackMarks None =
        new(null, new(false, new HashSet<string>()), new(false, new HashSet<string>()));

    /// <summary>Whose mark one of them is.</summary>
    public IEnumerable<string> Marked => KeptBack.Codes.Union(Bursts.Codes);

    /// <summary>Most sites carry one of them: it is said once, of the region.</summary>
    public bool AnyIsCommon => KeptBack.Common || Bursts.Common;
}

/// <summary>Judges what the last night counted by the rule of all marks (<see cref="CommonMarks"/>).</summary>
public static class ReadKeptBack
{
    public static async Task<KeptBackMarks> StandsAsync(RegistryDb db, ScreensAsked asked, CancellationToken ct)
    {
        if (asked.AsOf is not null) return KeptBackMarks.None;
        var counted = await db.KeptBack.AsNoTracking()
            .Join(db.Sites, k => k.SiteId, s => s.Id, (k, s) => new { s.Code, Counted = k }).ToListAsync(ct);
        return counted.Count == 0 ? KeptBackMarks.None : new(
            counted.Max(c => c.Counted.AsOf),
            CommonMarks.Of([.. counted.Select(c => new MarkedUnit(
                c.Code, DescribeDelays.SkipsSendings(c.Counted.PassedByShare, asked.Policy), c.Counted.PassedByShare.Rate ?? 0))],
                asked.Policy),
            CommonMarks.Of([.. counted.Select(c => new MarkedUnit(
                c.Code, DescribeDelays.SendsInBursts(c.Counted.BurstShare, asked.Policy), c.Counted.BurstShare.Rate ?? 0))],
                asked.Policy));
    }
}
