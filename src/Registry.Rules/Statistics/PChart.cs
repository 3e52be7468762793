namespace Registry.Rules.Statistics;

/// <summary>One subgroup of a p-chart: its proportion, its limits, and whether it lies outside them.</summary>
public readonly record struct PChartPoint(Proportion Proportion, double Lower, double Upper, bool Signal);

/// <summary>
/// Shewhart p-chart: centre line p̄ = Σx/Σn, limits p̄ ± 3√(p̄(1−p̄)/nᵢ), each subgroup with its own size, clipped to [0, 1]
/// (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2, "Proportions control charts").
/// </summary>
/// <remarks>The normal approximation is poor when n·p̄ is below about 5; then use <see cref="Exact"/>; for ranking sites
/// <see cref="FunnelLimits"/>.</remarks>
public sealed record PChart(double Centre, PChartPoint[] Points)
{
    /// <param name="subgroups">Subgroups in time order; those with denominator 0 get no limits and never signal.</param>
    /// <param name="sigmas">Width of the limits in standard errors.</param>
    /// <returns>Null when there is no data at all.</returns>
    public static PChart? Of(IReadOnlyList<Proportion> subgroups, double sigmas = 3)
    {
        ArgumentOutOfRangeException.ThrowIfNegativeOrZero(sigmas);
        if (new Proportion(subgroups.Sum(s => s.Numerator), subgroups.Sum(s => s.Denominator)).Rate is not { } centre) return null;
        return new PChart(centre, [.. subgroups.Select(s =>
        {
            if (s.Rate is not { } rate) return new PChartPoint(s, 0, 1, false);
            var half = sigmas * Math.Sqrt(centre * (1 - centre) / s.Denominator);
            var (lower, upper) = (Math.Max(0, centre - half), Math.Min(1, centre + half));
            return new PChartPoint(s, lower, upper, rate < lower || rate > upper);
        })]);
    }

    /// <summary>The same chart for small subgroups: limits are exact binomial quantiles (<see cref="FunnelLimits"/>) and a subgroup signals
    /// when a count at least as extreme has no more than this probability in its tail, so that a week with two tests does not.</summary>
    /// <param name="subgroups">Subgroups in time order; those with denominator 0 get no limits and never signal.</param>
    /// <param name="tail">Probability of one tail; 0.00135 is that of three standard errors of a normal distribution.</param>
    /// <returns>Null when there is no data at all.</returns>
    public static PChart? Exact(IReadOnlyList<Proportion> subgroups, double tail = 0.00135)
    {
        if (new Proportion(subgroups.Sum(s => s.Numerator), subgroups.Sum(s => s.Denominator)).Rate is not { } centre) return null;
        return new PChart(centre, [.. subgroups.Select(s =>
        {
            if (s.Denominator == 0) return new PChartPoint(s, 0, 1, false);
            if (centre is 0 or 1) return new PChartPoint(s, centre, centre, false);
            var n = checked((int)s.Denominator);
            var high = FunnelLimits.UpperTail(s, centre) <= tail;
            var low = FunnelLimits.UpperTail(new Proportion(s.Denominator - s.Numerator, s.Denominator), 1 - centre) <= tail;
            return new PChartPoint(s, FunnelLimits.At(centre, n, tail), Math.Min(1, FunnelLimits.At(centre, n, 1 - tail)), high || low);
        })]);
    }
}
