namespace Registry.SiteQuality.Flags;

/// <summary>
/// Which of tonight's problems are flags that stand already, and which are new. A problem is the same when it names the same part of the
/// site; or, of the same measure and direction, when its onset may be the same day: results that came late can name another part of what
/// somebody works on already. One that was raised before such a flag was closed is that one: it comes back by evidence of later days only.
/// </summary>
public static class RaiseFlags
{
    /// <param name="flags">Open ones, and those closed since the first day that is watched.</param>
    /// <param name="found">Tonight's.</param>
    /// <param name="today">The night's day.</param>
    /// <returns>Flags to add, and how many open ones were not found tonight; what was found is noted in those that stand.</returns>
    public static (IReadOnlyList<QualityFinding> Raised, int Gone) Of(
        IReadOnlyCollection<QualityFinding> flags, IEnumerable<QualityFinding> found, DateOnly today)
    {
        var missing = flags.Where(f => f.ClosedOn is null).ToList();
        var unnamed = new List<QualityFinding>();
        foreach (var finding in found.DistinctBy(f => (f.SiteId, f.Cause, f.Name, f.Measure)))
            if (!Note(missing.Find(f => NamesTheSame(f, finding)), finding)) unnamed.Add(finding);
        var raised = unnamed.Where(finding => !Note(missing.Find(f => MayBeTheSame(f, finding)), finding)
            && !flags.Any(f => f.ClosedOn >= finding.FoundOn && (NamesTheSame(f, finding) || MayBeTheSame(f, finding)))).ToList();
        foreach (var flag in missing) flag.ResolvedOn ??= today;
        return (raised, missing.Count);

        bool Note(QualityFinding? flag, QualityFinding finding)
        {
            if (flag is null) return false;
            missing.Remove(flag);
            (flag.AsOf, flag.ResolvedOn, flag.FoundCause, flag.FoundName) = (today, null, finding.Cause, finding.Name);
            return true;
        }
    }

    private static bool NamesTheSame(QualityFinding flag, QualityFinding found) =>
        (flag.SiteId, flag.Measure) == (found.SiteId, found.Measure)
        && ((flag.Cause, flag.Name) == (found.Cause, found.Name) || (flag.FoundCause, flag.FoundName) == (found.Cause, found.Name));

    private static bool MayBeTheSame(QualityFinding flag, QualityFinding found) =>
        (flag.SiteId, flag.Measure, flag.Above) == (found.SiteId, found.Measure, found.Above)
        && flag.OnsetFirst <= found.OnsetLast && found.OnsetFirst <= flag.OnsetLast;
}
