namespace Registry.Rules.Statistics;

/// <summary>How a wait ended: by the event, by something that makes the event impossible, or not yet.</summary>
public enum WaitEnd { Censored, Event, Competing }

/// <summary>One observed time with its end.</summary>
public readonly record struct CompetingWait(int Time, WaitEnd End);

/// <summary>Cumulative incidence just after <paramref name="Time"/>: shares that had the event, and a competing end.</summary>
public readonly record struct IncidenceStep(int Time, int AtRisk, double Event, double Competing);

/// <summary>
/// Cumulative incidence with competing risks (Aalen and Johansen, Scand J Stat 1978;5:141; worked example in Br J Cancer
/// 2004;91:1229): each increment is the event's hazard times the share still free of any end. Treating a death as censored, as a
/// Kaplan-Meier curve does, would overstate the event.
/// </summary>
public static class AalenJohansen
{
    /// <param name="times">Any order; times are not negative.</param>
    /// <returns>A step per distinct time with an event or a competing end, in order.</returns>
    public static IncidenceStep[] Estimate(IEnumerable<CompetingWait> times)
    {
        var sorted = times.ToArray();
        foreach (var time in sorted) ArgumentOutOfRangeException.ThrowIfNegative(time.Time);
        Array.Sort(sorted, (a, b) => a.Time.CompareTo(b.Time));
        var steps = new List<IncidenceStep>();
        double free = 1, happened = 0, competed = 0;
        for (var i = 0; i < sorted.Length;)
        {
            var (time, atRisk, events, competing) = (sorted[i].Time, sorted.Length - i, 0, 0);
            for (; i < sorted.Length && sorted[i].Time == time; i++)
            {
                if (sorted[i].End == WaitEnd.Event) events++;
                else if (sorted[i].End == WaitEnd.Competing) competing++;
            }

            if (events + competing == 0) continue;
            happened += free * events / atRisk;
            competed += free * competing / atRisk;
            free *= 1 - (double)(events + competing) / atRisk;
            steps.Add(new IncidenceStep(time, atRisk, happened, competed));
        }

        return [.. steps];
    }
}
