namespace Registry.Rules.Quality;

/// <summary>One question asked of a unit every night.</summary>
/// <param name="Measure">Of what.</param>
/// <param name="OddsRatio">R_A: the change looked for; below 1 a fall.</param>
/// <param name="Share">Of its kind's false flags that it may raise.</param>
public sealed record WatchChart(SessionMeasure Measure, double OddsRatio, double Share)
{
    public bool Above => OddsRatio > 1;

    /// <summary>
    /// A doubling and a tripling of refers (small units are found by the larger one); too few refers, since a probe that passes
    /// everything is the dangerous fault; invalid results by reason, where faults multiply the odds more; early tests of a site. The odds
    /// ratios of refers are the usual ones (Steiner 2000 has 2); the others and the shares are ours.
    /// </summary>
    public static readonly IReadOnlyList<WatchChart> All =
    [
        new(SessionMeasure.Referred, 2, .20), new(SessionMeasure.Referred, 3, .20),
        new(SessionMeasure.Referred, .5, .05), new(SessionMeasure.Referred, .2, .10),
        new(SessionMeasure.NoSeal, 3, .08), new(SessionMeasure.NoSeal, 8, .08),
        new(SessionMeasure.Noise, 3, .08), new(SessionMeasure.Noise, 8, .08),
        new(SessionMeasure.OtherInvalid, 3, .05), new(SessionMeasure.Early, 3, .08),
    ];

    /// <summary>Share of the region's false flags that a kind of unit may raise. Sites have most: what is wrong there concerns most
    /// infants. Own choice.</summary>
    public static double ShareOf(QualityUnitKind kind) => kind == QualityUnitKind.Site ? .4 : .2;

    /// <summary>When tests are made is decided by the site; the rest is asked of every kind.</summary>
    public bool Concerns(QualityUnitKind kind) => kind == QualityUnitKind.Site || Measure != SessionMeasure.Early;
}

/// <summary>What a night's look needs besides the counts: made once a quarter, kept by version.</summary>
/// <param name="Models">The case mix of each measure; one without is not watched.</param>
/// <param name="Tolerance">Standard deviation of the log odds between ordinary units of a kind.</param>
/// <param name="Thresholds">Value of each unit's chart that raises a flag, in the order of <see cref="WatchChart.All"/>; NaN: not
/// charted.</param>
public sealed record WatchPlan(
    IReadOnlyDictionary<SessionMeasure, CaseMixModel> Models,
    IReadOnlyDictionary<(QualityUnitKind Kind, SessionMeasure Measure), double> Tolerance,
    IReadOnlyDictionary<QualityUnit, IReadOnlyList<double>> Thresholds)
{
    /// <summary>Ordinary units differ by more than chance (method of work, families): the chart begins to count only beyond the upper
    /// 5 % of them. Own choice.</summary>
    private const double OrdinaryQuantile = 1.645;

    /// <summary>Added to the logit expected of a unit's infants.</summary>
    public double Shift(QualityUnitKind kind, WatchChart chart) =>
        (chart.Above ? OrdinaryQuantile : -OrdinaryQuantile) * Tolerance.GetValueOrDefault((kind, chart.Measure));
}
