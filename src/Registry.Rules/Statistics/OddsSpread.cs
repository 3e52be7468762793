namespace Registry.Rules.Statistics;

/// <summary>
/// Whether units differ in their odds by more than chance once their expected counts are known, and by how much (Spiegelhalter, Stat Med
/// 2005;24:1185, additive model; here on the logit scale: a unit's log odds ratio is about (O − E)/V with variance 1/V, V the
/// variance of its count by chance).
/// </summary>
/// <param name="Phi">Σz²/I over winsorized z; 1 is what chance alone gives, less because of the winsorizing.</param>
/// <param name="TauSquared">Variance between units of the log odds ratio.</param>
public readonly record struct OddsSpread(double Phi, double TauSquared)
{
    /// <param name="units">Observed minus expected, and variance, per unit; those with a variance below 1 say nothing and are
    /// left out.</param>
    /// <param name="winsorise">Share of the z-scores pulled in at each end: units that are the problem are not to hide themselves.</param>
    public static OddsSpread Of(IEnumerable<(double Excess, double Variance)> units, double winsorise = .1)
    {
        if (winsorise is not (>= 0 and < .5)) throw new ArgumentOutOfRangeException(nameof(winsorise), winsorise, "Lies in [0, 0.5).");
        var used = units.Where(u => u.Variance >= 1).ToArray();
        if (used.Length < 5) return new(1, 0);
        var z = used.Select(u => u.Excess / Math.Sqrt(u.Variance)).Order().ToArray();
        var cut = (int)(winsorise * z.Length);
        var phi = z.Sum(v => Math.Pow(Math.Clamp(v, z[cut], z[^(cut + 1)]), 2)) / z.Length;
        var total = used.Sum(u => u.Variance);
        var tau2 = (z.Length * phi - (z.Length - 1)) / (total - used.Sum(u => u.Variance * u.Variance) / total);
        return new(phi, Math.Max(0, tau2));
    }

    /// <summary>z under the multiplicative model: chance widened by √φ, never narrowed.</summary>
    public double Multiplicative(double excess, double variance) => excess / Math.Sqrt(Math.Max(1, Phi) * variance);

    /// <summary>z under the additive model: variance τ² between units added to that of chance, 1/V.</summary>
    public double Additive(double excess, double variance) => excess / variance / Math.Sqrt(1 / variance + TauSquared);

    /// <summary>How much wider than those of chance the limits of a count of such a variance are under the additive model.</summary>
    public double Widening(double variance) => Math.Sqrt(1 + TauSquared * variance);
}
