using Registry.Records;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>A measure of a site beside the same of sites like it.</summary>
/// <param name="Name">Which.</param>
/// <param name="Own">Of the site.</param>
/// <param name="Together">Of the others as one.</param>
/// <param name="Lowest">Of the one of them with the lowest rate; 0/0 where none has data.</param>
/// <param name="Highest">Of the one with the highest.</param>
public sealed record LikeMeasure(string Name, Proportion Own, Proportion Together, Proportion Lowest, Proportion Highest);

/// <summary>A site beside others of its care and volume (<see cref="LikeSites"/>), which are not named.</summary>
public sealed record LikeComparison(int Others, IReadOnlyList<LikeMeasure> Measures);

/// <summary>Compares a site with those like it, never with a pool that holds itself.</summary>
public static class CompareWithLike
{
    /// <param name="own">The site.</param>
    /// <param name="sites">Every site that tested in the same days.</param>
    /// <returns>Null where there are too few for none of them to be told.</returns>
    public static LikeComparison? Of(UnitLine own, IReadOnlyList<UnitLine> sites)
    {
        var codes = LikeSites.Of(Traits(own), sites.Select(Traits)).Select(s => s.Code).ToHashSet(StringComparer.Ordinal);
        if (codes.Count < LikeSites.Fewest) return null;
        List<UnitLine> others = [.. sites.Where(l => codes.Contains(l.Site.Code))];
        var together = own with
        {
            Counts = ScreenCounts.Sum(default, "", others.Select(l => l.Counts)),
            Late = UnitLine.LateOf(others),
        };
        return new(others.Count, [.. SiteWords.LikeMeasures.Where(m => m.Of(own) is not null).Select(measure =>
        {
            var rates = others.Select(measure.Of).OfType<Proportion>().Where(p => p.Denominator > 0).OrderBy(p => p.Rate).ToList();
            return new LikeMeasure(measure.Name, measure.Of(own)!.Value, measure.Of(together) ?? new(0, 0),
                rates.FirstOrDefault(), rates.LastOrDefault());
        })]);
    }

    private static SiteTraits Traits(UnitLine line) => new(line.Site.Code, Level(line.Site), line.Counts.Infants);

    private static string Level(Site site) => site.CareLevel is { } level ? $"{level}" : $"{site.Kind} {site.HasNicu}";
}
