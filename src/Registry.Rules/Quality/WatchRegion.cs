namespace Registry.Rules.Quality;

/// <summary>
/// Looks at every night of some days, as it was when it was that night: which standing problems were raised, since when they stand, what
/// is behind them, and what they explain. The answer depends on the cells, the plan and the closings alone, so that a job that runs it
/// nightly and one that runs it once over a year say the same.
/// </summary>
public static class WatchRegion
{
    /// <param name="plan">Made of the days before.</param>
    /// <param name="cells">Of the days looked at, in any order.</param>
    /// <param name="closed">Cases closed in these days.</param>
    /// <param name="policy">What is early.</param>
    /// <returns>In the order they were raised.</returns>
    public static IReadOnlyList<UnitFinding> Over(
        WatchPlan plan, IEnumerable<QualityCell> cells, IReadOnlyCollection<ClosedCase> closed, Policy policy) =>
    [
        .. cells.GroupBy(c => c.Site)
            .SelectMany(s => new WatchSite(plan, [.. s.OrderBy(c => c.Day)], [.. closed.Where(c => c.Site == s.Key)], policy).Look())
            .OrderBy(f => f.RaisedOn).ThenBy(f => f.Site, StringComparer.Ordinal),
    ];
}
