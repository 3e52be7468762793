using MathNet.Numerics.Distributions;

namespace Registry.Rules.Statistics;

/// <summary>How a wait ended: by the event, by something that makes the event impossible, or not yet.</summary>
public enum WaitEnd { Censored, Event, Competing }

/// <summary>One observed time with its end; followed only <paramref name="After"/> a time.</summary>
public readonly record struct CompetingWait(int Time, WaitEnd End, int After = -1);

/// <summary>A share that had an end by a time.</summary>
/// <param name="StandardError">From the Greenwood-type variance.</param>
/// <param name="Limits">Log-log limits; null when the share is 0 or 1 and they are not defined.</param>
public readonly record struct Incidence(double Share, double StandardError, Interval? Limits);

/// <summary>Cumulative incidence just after <paramref name="Time"/>: shares that had the event, and a competing end.</summary>
public readonly record struct IncidenceStep(int Time, int AtRisk, Incidence Event, Incidence Competing);

/// <summary>
/// Cumulative incidence with competing risks (Aalen and Johansen, Scand J Stat 1978;5:141; worked example in Br J Cancer
/// 2004;91:1229): each increment is the event's hazard times the share still free of any end. Treating a death as censored, as a
/// Kaplan-Meier curve does, would overstate the event. The variance is the Greenwood-type one (Gaynor et al., JASA 1993;88:400; from
/// memory; other programs print another, from the subdistribution's hazard), the limits are on the log-log scale. Entry may be delayed.
/// </summary>
public static class AalenJohansen
{
    /// <param name="times">Any order; times are not negative.</param>
    /// <param name="confidence">Of the limits, in (0, 1).</param>
    /// <returns>A step per distinct time with an event or a competing end, in order.</returns>
    public static IncidenceStep[] Estimate(IEnumerable<CompetingWait> times, double confidence = 0.95)
    {
        var z = Normal.InvCDF(0, 1, 1 - (1 - confidence) / 2);
        var steps = new List<IncidenceStep>();
        var free = 1.0;
        Sums happened = new(), competed = new();
        foreach (var (time, atRisk, events, competing) in RiskSet.Of(times))
        {
            happened.Add(free, atRisk, events, events + competing);
            competed.Add(free, atRisk, competing, events + competing);
            free *= 1 - (double)(events + competing) / atRisk;
            steps.Add(new(time, atRisk, happened.Incidence(z), competed.Incidence(z)));
        }

        return [.. steps];
    }

    /// <summary>The step in force at <paramref name="time"/>; null before the first.</summary>
    public static IncidenceStep? At(IReadOnlyList<IncidenceStep> steps, int time)
    {
        IncidenceStep? last = null;
        foreach (var step in steps)
        {
            if (step.Time > time) break;
            last = step;
        }

        return last;
    }

    /// <summary>
    /// One cause's share F and the sums its variance is made of: with Y at risk, d ends of which k of this cause, S the share free before,
    /// Σ (F−F(s))²·d/(Y(Y−d)) + Σ S²·k(Y−k)/Y³ − 2 Σ (F−F(s))·S·k/Y², the squares multiplied out.
    /// </summary>
    private struct Sums
    {
        private double _share, _all, _allF, _allF2, _own, _both, _bothF;

        public void Add(double free, double atRisk, double own, double all)
        {
            _share += free * own / atRisk;
            var hazard = all == atRisk ? 0 : all / (atRisk * (atRisk - all));
            _all += hazard;
            _allF += hazard * _share;
            _allF2 += hazard * _share * _share;
            _own += free * free * own * (atRisk - own) / (atRisk * atRisk * atRisk);
            var both = free * own / (atRisk * atRisk);
            _both += both;
            _bothF += both * _share;
        }

        public readonly Incidence Incidence(double z)
        {
            var variance = _share * _share * _all - 2 * _share * _allF + _allF2 + _own - 2 * (_share * _both - _bothF);
            var error = Math.Sqrt(Math.Max(0, variance));
            if (_share is <= 0 or >= 1) return new(_share, error, null);
            var spread = Math.Exp(z * error / (_share * Math.Abs(Math.Log(_share))));
            return new(_share, error, new(Math.Pow(_share, spread), Math.Pow(_share, 1 / spread)));
        }
    }
}
