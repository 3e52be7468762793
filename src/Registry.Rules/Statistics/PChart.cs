namespace Registry.Rules.Statistics;

/// <summary>One subgroup of a p-chart: its proportion, its limits, and whether it lies outside them.</summary>
public readonly record struct PChartPoint(Proportion Proportion, double Lower, double Upper, bool Signal);

/// <summary>
/// Shewhart p-chart: centre line p̄ = Σx/Σn, limits p̄ ± 3√(p̄(1−p̄)/nᵢ), each subgroup with its own size, clipped to [0, 1]
/// (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2, "Proportions control charts").
/// </summary>
/// <remarks>The normal approximation is poor when n·p̄ is below about 5; for ranking sites use <see cref="FunnelLimits"/>.</remarks>
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
}
