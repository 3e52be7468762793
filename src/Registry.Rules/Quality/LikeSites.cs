namespace Registry.Rules.Quality;

/// <summary>What makes sites alike before anybody looks at their results.</summary>
/// <param name="Code">Which site.</param>
/// <param name="Level">The care it gives, in any words that are the same for the same care.</param>
/// <param name="Infants">First tested there in the days compared.</param>
public readonly record struct SiteTraits(string Code, string Level, int Infants);

/// <summary>
/// Other sites of the same care and volume, never the site itself: those of its level with half to twice as many infants; where these are
/// fewer than <see cref="Fewest"/>, the nearest of its level in volume; where the level has not as many, nearest ones of other
/// levels as well. Common practice, no source; the numbers are ours.
/// </summary>
public static class LikeSites
{
    /// <summary>Fewer say little of a group, and would show one of them.</summary>
    public const int Fewest = 4;

    private static readonly double Twice = Math.Log(2);

    /// <param name="site">One of them.</param>
    /// <param name="all">Every site that tested anybody.</param>
    /// <returns>The nearest in volume first; fewer than <see cref="Fewest"/> only in a region that has no more.</returns>
    public static IReadOnlyList<SiteTraits> Of(SiteTraits site, IEnumerable<SiteTraits> all)
    {
        var others = all.Where(s => s.Code != site.Code && s.Infants > 0)
            .OrderBy(s => s.Level != site.Level).ThenBy(s => Apart(s, site)).ThenBy(s => s.Code, StringComparer.Ordinal).ToList();
        var alike = others.Count(s => s.Level == site.Level && Apart(s, site) <= Twice);
        return others[..Math.Min(others.Count, Math.Max(alike, Fewest))];
    }

    private static double Apart(SiteTraits one, SiteTraits other) => Math.Abs(Math.Log((double)one.Infants / Math.Max(1, other.Infants)));
}
