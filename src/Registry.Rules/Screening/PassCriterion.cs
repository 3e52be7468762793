using Registry.Rules.Facts;

namespace Registry.Rules.Screening;

/// <summary>
/// What a site says its instrument needs for a pass: so many frequency bands with at least this signal-to-noise ratio. Where none is
/// stated for the test's site, instrument and method, nothing is compared: instruments differ, and no criterion is published for all.
/// </summary>
/// <param name="Bands">Bands needed.</param>
/// <param name="MinSnrDb">Least signal-to-noise ratio of such a band, dB.</param>
public sealed record PassCriterion(int Bands, decimal MinSnrDb)
{
    /// <summary>Code of the site that states it; null for every site.</summary>
    public string? Site { get; init; }

    /// <summary>The instrument, as reported with its tests; null for every instrument.</summary>
    public string? Instrument { get; init; }
    public ScreeningMethod? Method { get; init; }

    /// <summary>Least emission level of such a band, dB SPL; null when only the ratio counts.</summary>
    public decimal? MinLevelDbSpl { get; init; }

    /// <summary>The bands that count, Hz; empty for every band reported.</summary>
    public int[] FrequenciesHz { get; init; } = [];

    /// <summary>The criterion that holds for a test: of those that fit, one for the site before one for the instrument before one for
    /// the method; null when none fits. Names and codes are compared without regard to case.</summary>
    public static PassCriterion? For(IEnumerable<PassCriterion> criteria, string site, string? instrument, ScreeningMethod method) =>
        criteria.Where(c => c.Fits(site, instrument, method))
            .OrderByDescending(c => c.Site is not null)
            .ThenByDescending(c => c.Instrument is not null)
            .ThenByDescending(c => c.Method is not null)
            .FirstOrDefault();

    /// <summary>In words: "harbour: 3 bands with at least 6 dB".</summary>
    public string Words()
    {
        string?[] scope = [Site, Instrument is null ? null : $"instrument {Instrument}", Method is { } m ? Codes.Of(m) : null];
        var stated = string.Join(", ", scope.Where(s => s is not null));
        var of = FrequenciesHz.Length == 0 ? "" : $" of {string.Join(", ", FrequenciesHz)} Hz";
        var level = MinLevelDbSpl is { } least ? FormattableString.Invariant($" and {least} dB SPL") : "";
        var tests = stated.Length == 0 ? "every test" : stated;
        var bands = Bands == 1 ? "band" : "bands";
        return FormattableString.Invariant($"{tests}: {Bands} {bands}{of} with at least {MinSnrDb} dB signal to noise{level}");
    }

    internal IEnumerable<string> Problems()
    {
        if (Bands is < 1 or > TestDetail.Limits.MaxBands) yield return $"bands: {Bands} is not between 1 and {TestDetail.Limits.MaxBands}.";
        if (MinSnrDb is < 0 or > 40) yield return FormattableString.Invariant($"minSnrDb: {MinSnrDb} is not between 0 and 40.");
        if (MinLevelDbSpl is < -60 or > 60)
            yield return FormattableString.Invariant($"minLevelDbSpl: {MinLevelDbSpl} is not between -60 and 60.");
        if (FrequenciesHz.Length > 0 && FrequenciesHz.Length < Bands)
            yield return $"frequenciesHz: there are fewer than the {Bands} bands needed.";
        var (lowest, highest) = TestDetail.Limits.FrequencyHz;
        if (FrequenciesHz.Any(f => f < lowest || f > highest))
            yield return $"frequenciesHz: one is not between {lowest} and {highest}.";
    }

    internal bool IsForTheSameAs(PassCriterion other) =>
        Same(Site, other.Site) && Same(Instrument, other.Instrument) && Method == other.Method;

    private bool Fits(string site, string? instrument, ScreeningMethod method) =>
        (Site is null || Same(Site, site)) && (Instrument is null || Same(Instrument, instrument)) && (Method is null || Method == method);

    private static bool Same(string? one, string? other) => string.Equals(one, other, StringComparison.OrdinalIgnoreCase);
}
