namespace Registry.Rules.Quality;

/// <summary>One question asked of a unit every night.</summary>
/// <param name="Measure">Of what.</param>
/// <param name="OddsRatio">R_A: the change looked for; below 1 a fall.</param>
/// <param name="OfSites">Share of the sites' false flags that it may raise.</param>
/// <param name="OfUnits">Share of those of instruments, of probes and of screeners; 0: not asked of them.</param>
public sealed record WatchChart(SessionMeasure Measure, double OddsRatio, double OfSites, double OfUnits)
{
    public bool Above => OddsRatio > 1;

    /// <summary>Too many refers.</summary>
    public bool AsksTooManyRefers => Measure == SessionMeasure.Referred && Above;

    /// <summary>
    /// A doubling and a tripling of refers; half of them and a tenth, since a probe that passes everything is the dangerous fault; invalid
    /// results by reason, where faults multiply the odds more; early tests, which a site decides. What is wrong with a whole site
    /// shows in its refers, and in noise; a probe that passes everything is a probe's. The odds ratios of refers are the usual ones
    /// (Steiner 2000 has 2); the others and the shares are ours.
    /// </summary>
    public static readonly IReadOnlyList<WatchChart> All =
    [
        new(SessionMeasure.Referred, 2, .425, .15), new(SessionMeasure.Referred, 3, .425, .15),
        new(SessionMeasure.Referred, .5, .01, .065), new(SessionMeasure.Referred, .1, .015, .175),
        new(SessionMeasure.NoSeal, 3, .015, .1), new(SessionMeasure.NoSeal, 8, .015, .1),
        new(SessionMeasure.Noise, 3, .025, .1), new(SessionMeasure.Noise, 8, .025, .1),
        new(SessionMeasure.OtherInvalid, 3, .015, .06), new(SessionMeasure.Early, 3, .02, 0),
        new(SessionMeasure.RescreenReferred, 3, .01, 0),
    ];

    /// <summary>A unit that refers at least so many infants a month sees a doubling within the season: it is not asked of a tripling as
    /// well, and its doubling may raise the false flags of both.</summary>
    public const double ManyRefers = 6;

    /// <summary>Share of the region's false flags that a kind of unit may raise. Sites have most, and of theirs refers: a doubling at one
    /// is the change that takes most of them to be found within a month, everything else is found with few. Own choice.</summary>
    public static double ShareOf(QualityUnitKind kind) => kind == QualityUnitKind.Site ? .8 : .2 / 3;

    /// <summary>Share of its kind's false flags that it may raise in a unit; 0 where it is not asked.</summary>
    /// <param name="kind">Of the unit.</param>
    /// <param name="refers">Expected of the unit in a month.</param>
    public double Share(QualityUnitKind kind, double refers)
    {
        var own = kind == QualityUnitKind.Site ? OfSites : OfUnits;
        if (!AsksTooManyRefers || refers < ManyRefers) return own;
        return this == All[0] ? own + All[1].Share(kind, 0) : 0;
    }
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

    private readonly Dictionary<QualityUnitKind, double[]> _largest = Thresholds.GroupBy(t => t.Key.Kind).ToDictionary(
        k => k.Key, k => WatchChart.All.Select((_, i) => k.Select(t => t.Value[i]).Where(t => !double.IsNaN(t)).DefaultIfEmpty(double.NaN)
            .Max()).ToArray());

    /// <summary>Of a unit that was there when the plan was made its own; one that came later has the largest of its kind until the next
    /// plan. Null where no unit of its kind was.</summary>
    public IReadOnlyList<double>? Of(QualityUnit unit) =>
        Thresholds.TryGetValue(unit, out var own) ? own : _largest.GetValueOrDefault(unit.Kind);

    /// <summary>Added to the logit expected of a unit's infants.</summary>
    public double Shift(QualityUnitKind kind, WatchChart chart) =>
        (chart.Above ? OrdinaryQuantile : -OrdinaryQuantile) * Tolerance.GetValueOrDefault((kind, chart.Measure));
}
