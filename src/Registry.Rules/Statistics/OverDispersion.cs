namespace Registry.Rules.Statistics;

/// <summary>
/// Whether sites differ more than chance alone explains (Spiegelhalter, Stat Med 2005;24:1185, sections 4.3–4.4, formulae from
/// memory): φ = Σz²/I over winsorised z; when φ exceeds 1 limits widen by √φ, or between-site variance τ² is added.
/// </summary>
/// <param name="Phi">Dispersion; 1 is what chance alone gives.</param>
/// <param name="TauSquared">Between-site variance of the additive model, on the scale of the proportion.</param>
public readonly record struct OverDispersion(double Phi, double TauSquared)
{
    /// <param name="sites">Observed proportions; those without data are left out.</param>
    /// <param name="target">θ, in (0, 1).</param>
    /// <param name="winsorise">Share of the z-scores pulled in at each end.</param>
    public static OverDispersion Of(IReadOnlyList<Proportion> sites, double target, double winsorise = 0.1)
    {
        if (target is not (> 0 and < 1)) throw new ArgumentOutOfRangeException(nameof(target), target, "Lies between 0 and 1.");
        if (winsorise is not (>= 0 and < 0.5)) throw new ArgumentOutOfRangeException(nameof(winsorise), winsorise, "Lies in [0, 0.5).");
        var withData = sites.Where(s => s.Denominator > 0).ToArray();
        if (withData.Length < 2) return new OverDispersion(1, 0);
        var z = withData.Select(s => ZScore(s, target)).Order().ToArray();
        var cut = (int)(winsorise * z.Length);
        var phi = z.Sum(value => Math.Pow(Math.Clamp(value, z[cut], z[^(cut + 1)]), 2)) / z.Length;

        // DerSimonian-Laird form with weights 1/s²: τ² = (I·φ − (I − 1)) / (Σw − Σw²/Σw).
        var weights = withData.Select(s => s.Denominator / (target * (1 - target))).ToArray();
        var total = weights.Sum();
        var tau2 = (z.Length * phi - (z.Length - 1)) / (total - weights.Sum(w => w * w) / total);
        return new OverDispersion(phi, phi > 1 ? Math.Max(0, tau2) : 0);
    }

    /// <summary>Standard error of a site of size <paramref name="n"/> under the multiplicative model: √φ times that of chance alone, never
    /// less than it. Limits are target ± z of these.</summary>
    public double Multiplicative(double target, long n) => Math.Sqrt(Math.Max(1, Phi) * Variance(target, n));

    /// <summary>Standard error under the additive model: between-site variance τ² added to that of chance, so that large sites differ
    /// too.</summary>
    public double Additive(double target, long n) => Math.Sqrt(Variance(target, n) + TauSquared);

    private static double Variance(double target, long n)
    {
        if (target is not (> 0 and < 1)) throw new ArgumentOutOfRangeException(nameof(target), target, "Lies between 0 and 1.");
        ArgumentOutOfRangeException.ThrowIfLessThan(n, 1);
        return target * (1 - target) / n;
    }

    /// <summary>Distance from the target in standard errors at the target.</summary>
    public static double ZScore(Proportion site, double target) =>
        (site.Rate ?? target) is var rate && site.Denominator > 0
            ? (rate - target) / Math.Sqrt(target * (1 - target) / site.Denominator)
            : 0;
}
