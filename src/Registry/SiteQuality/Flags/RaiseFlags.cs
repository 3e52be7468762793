using Registry.Rules.Quality;

namespace Registry.SiteQuality.Flags;

/// <summary>
/// Which of tonight's problems are flags that stand already, and which are new. Too many and too few are never the same. Else a problem is
/// the same when it names the same part of the site, by now or when it was raised; or, of the same measure, when its onset may be the same
/// day: results that came late can name another part of what somebody works on already. One that was raised before such a flag was closed
/// is that one: it comes back by evidence of later days only.
/// </summary>
public static class RaiseFlags
{
    private static readonly Func<QualityFinding, QualityFinding, bool>[] Same = [IsNamedAlike, WasNamedAlike, MayBeTheSame];

    /// <param name="flags">Open ones, and those closed since the first day that is watched.</param>
    /// <param name="found">Tonight's; those among them that another explains raise nothing.</param>
    /// <param name="today">The night's day.</param>
    /// <returns>Flags to add, and how many open ones were not found tonight; what was found is noted in those that stand.</returns>
    public static (IReadOnlyList<QualityFinding> Raised, int Gone) Of(
        IReadOnlyCollection<QualityFinding> flags, IEnumerable<QualityFinding> found, DateOnly today)
    {
        var missing = flags.Where(f => f.ClosedOn is null).ToList();
        var all = found.ToLookup(f => f.Named.ExplainedBy is null);
        var left = all[true].DistinctBy(f => (f.SiteId, f.FoundCause, f.FoundName, f.Measure, f.Above)).ToList();
        foreach (var same in Same) left.RemoveAll(finding => Note(missing.Find(f => same(f, finding)), finding));
        var raised = left.FindAll(f => !flags.Any(flag => flag.ClosedOn >= f.FoundOn && Array.Exists(Same, same => same(flag, f))));
        foreach (var flag in missing)
        {
            flag.ResolvedOn ??= today;
            if (all[false].FirstOrDefault(f => WasNamedAlike(flag, f)) is { } finding) Say(flag, finding.Named);
        }

        return (raised, missing.Count);

        bool Note(QualityFinding? flag, QualityFinding finding)
        {
            if (flag is null) return false;
            missing.Remove(flag);
            (flag.AsOf, flag.ResolvedOn, flag.FoundCause, flag.FoundName) = (today, null, finding.FoundCause, finding.FoundName);
            Say(flag, finding.Named);
            return true;
        }

        void Say(QualityFinding flag, FlagNaming said)
        {
            if (!said.Says(flag.Named)) flag.Namings = [.. flag.Namings, said with { On = today }];
        }
    }

    private static bool IsNamedAlike(QualityFinding flag, QualityFinding found) =>
        AskTheSame(flag, found) && Tonight(flag) == Tonight(found);

    private static bool WasNamedAlike(QualityFinding flag, QualityFinding found) => AskTheSame(flag, found)
        && (flag.Raised == found.Raised || flag.Raised == Tonight(found) || Tonight(flag) == found.Raised
            || Tonight(flag) == Tonight(found));

    private static bool MayBeTheSame(QualityFinding flag, QualityFinding found) => AskTheSame(flag, found)
        && flag.OnsetFirst <= found.OnsetLast && found.OnsetFirst <= flag.OnsetLast;

    private static bool AskTheSame(QualityFinding flag, QualityFinding found) =>
        (flag.SiteId, flag.Measure, flag.Above) == (found.SiteId, found.Measure, found.Above);

    private static CauseFactor Tonight(QualityFinding finding) => new(finding.FoundCause, finding.FoundName);
}
