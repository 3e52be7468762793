namespace Registry.Rules.Statistics;

/// <summary>
/// The stretch of time in which enough are followed for an estimate: a curve before or after it would rest on a handful. Waits that
/// end before it are left out (the curve is of those without the step by then), those that reach beyond are censored at its end.
/// </summary>
/// <param name="From">First time with enough at risk.</param>
/// <param name="Through">Last time before fewer are.</param>
public sealed record FollowedStretch(int From, int Through, IReadOnlyList<CompetingWait> Waits)
{
    /// <returns>Null when there are never enough.</returns>
    public static FollowedStretch? Of(IReadOnlyList<CompetingWait> waits, int least)
    {
        // The number at risk changes where somebody enters and after somebody's end.
        var changes = new SortedDictionary<int, int>();
        foreach (var wait in waits)
        {
            changes[wait.After + 1] = changes.GetValueOrDefault(wait.After + 1) + 1;
            changes[wait.Time + 1] = changes.GetValueOrDefault(wait.Time + 1) - 1;
        }

        int? from = null;
        var atRisk = 0;
        foreach (var (time, change) in changes)
        {
            atRisk += change;
            if (from is null && atRisk >= least) from = time;
            else if (from is { } start && atRisk < least) return new(start, time - 1, Within(waits, start, time - 1));
        }

        return null;
    }

    /// <summary>How many are followed at a time, of any waits.</summary>
    public static int AtRisk(IEnumerable<CompetingWait> waits, int time) => waits.Count(w => w.After < time && time <= w.Time);

    private static List<CompetingWait> Within(IReadOnlyList<CompetingWait> waits, int from, int through) =>
    [
        .. waits.Where(w => w.Time >= from && w.After < through).Select(w => w.Time <= through
            ? w with { After = Math.Max(w.After, from - 1) }
            : new CompetingWait(through, WaitEnd.Censored, Math.Max(w.After, from - 1))),
    ];
}
