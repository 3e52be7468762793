using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>One of those compared.</summary>
/// <param name="Code">Which.</param>
/// <param name="Marked">Whether it is beyond its own limit: late, silent, sending in bursts.</param>
/// <param name="Much">How far, in any unit that is the same for all: the larger the worse.</param>
public readonly record struct MarkedUnit(string Code, bool Marked, double Much);

/// <summary>Whose mark says something, and whether the mark itself does.</summary>
/// <param name="Common">More carry it than the policy allows: what is behind it is no single site's.
/// It is said once, of the region.</param>
/// <param name="Codes">Those whose mark stands.</param>
public sealed record StandingMarks(bool Common, IReadOnlySet<string> Codes);

/// <summary>
/// A mark that most of those compared carry tells nobody apart, and is no mark: then only those far beyond the others keep it, above the
/// upper outer limit of Tukey's box plot (third quartile and one and a half times the distance between the quartiles; Exploratory Data
/// Analysis, 1977; from memory). The others are shown by their rank. Few are never called common: of two silent sites both are.
/// </summary>
public static class CommonMarks
{
    /// <summary>Fewer have no distribution to lie outside of. Own choice.</summary>
    public const int FewestCompared = 5;

    /// <param name="compared">Everything the mark was asked of, marked or not.</param>
    /// <param name="policy">How many of a hundred may carry a mark.</param>
    public static StandingMarks Of(IReadOnlyCollection<MarkedUnit> compared, Policy policy)
    {
        var marked = compared.Where(u => u.Marked).ToList();
        if (compared.Count < FewestCompared || 100 * marked.Count <= policy.CommonMarkPercent * compared.Count)
            return new(false, marked.Select(u => u.Code).ToHashSet());
        double[] much = [.. compared.Select(u => u.Much).Order()];
        var (lower, upper) = (Quantile.Of(much, .25)!.Value, Quantile.Of(much, .75)!.Value);
        var limit = upper + 1.5 * (upper - lower);
        return new(true, marked.Where(u => u.Much > limit).Select(u => u.Code).ToHashSet());
    }
}
