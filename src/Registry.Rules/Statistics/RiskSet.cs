namespace Registry.Rules.Statistics;

/// <summary>How many are followed at a time, and what happens to them then.</summary>
internal readonly record struct RiskSet(int Time, int AtRisk, int Events, int Competing)
{
    /// <summary>A row per distinct time with an event or a competing end, in order. Whoever entered later is not at risk yet; who is
    /// censored at a time is at risk then, the usual convention.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A time is negative, or somebody is followed from after the end.</exception>
    public static List<RiskSet> Of(IEnumerable<CompetingWait> waits)
    {
        var sorted = waits.ToArray();
        foreach (var wait in sorted)
        {
            ArgumentOutOfRangeException.ThrowIfNegative(wait.Time);
            ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(wait.After, wait.Time);
        }

        Array.Sort(sorted, (a, b) => a.Time.CompareTo(b.Time));
        var entries = Array.ConvertAll(sorted, w => w.After);
        Array.Sort(entries);
        var (rows, entered) = (new List<RiskSet>(), 0);
        for (var i = 0; i < sorted.Length;)
        {
            var (time, gone, events, competing) = (sorted[i].Time, i, 0, 0);
            while (entered < entries.Length && entries[entered] < time) entered++;
            for (; i < sorted.Length && sorted[i].Time == time; i++)
            {
                if (sorted[i].End == WaitEnd.Event) events++;
                else if (sorted[i].End == WaitEnd.Competing) competing++;
            }

            if (events + competing > 0) rows.Add(new(time, entered - gone, events, competing));
        }

        return rows;
    }
}
