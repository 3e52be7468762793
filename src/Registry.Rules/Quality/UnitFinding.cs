namespace Registry.Rules.Quality;

/// <summary>A case that somebody closed: what it watched begins anew on the day after.</summary>
/// <param name="Site">Where.</param>
/// <param name="Measure">Of the case.</param>
/// <param name="Above">Of too many; else of too few.</param>
/// <param name="Factor">That was named.</param>
/// <param name="On">Day of closing.</param>
public readonly record struct ClosedCase(string Site, SessionMeasure Measure, bool Above, CauseFactor Factor, DateOnly On);

/// <summary>An estimate with limits of 95 %.</summary>
public readonly record struct Estimate(double Value, double Lower, double Upper);

/// <summary>One standing problem: raised once, whatever else it makes look unusual.</summary>
/// <param name="Site">Where.</param>
/// <param name="Unit">The unit whose chart signaled first.</param>
/// <param name="Measure">Of what.</param>
/// <param name="Above">Too many; else too few.</param>
/// <param name="RaisedOn">The night after this day.</param>
/// <param name="Cause">What explains most, with its onset: as it is named now.</param>
/// <param name="Trials">Sessions of the factor it was raised with (<see cref="Named"/>) since its onset, when raised: so are all numbers
/// that follow.</param>
/// <param name="Observed">Of them with the outcome.</param>
/// <param name="Expected">How many their case mix lets expect.</param>
/// <param name="OddsRatio">Of the factor since its onset.</param>
/// <param name="Explained">Share of the site's excess since the onset that the factor explains; null without an excess.</param>
/// <param name="AlsoMeasures">Other measures that the same factor has changed.</param>
/// <param name="Shadows">Units that look unusual only because of it.</param>
/// <param name="ClosedOn">Null while it stands; the day somebody closed it, or a cause was named that explains it as well
/// (<see cref="ExplainedBy"/>).</param>
public sealed record UnitFinding(
    string Site, QualityUnit Unit, SessionMeasure Measure, bool Above, DateOnly RaisedOn, NamedCause Cause,
    int Trials, int Observed, double Expected, Estimate OddsRatio, Estimate? Explained,
    IReadOnlyList<SessionMeasure> AlsoMeasures, IReadOnlyList<QualityUnit> Shadows, DateOnly? ClosedOn)
{
    /// <summary>A cause named later, of another finding, that explains this one too: it was its shadow, and no longer stands. Null where
    /// none does.</summary>
    public CauseFactor? ExplainedBy { get; init; }

    /// <summary>What it was named by, and since which night: first when it was raised, then whenever a week more of evidence named
    /// something else.</summary>
    public IReadOnlyList<(DateOnly On, NamedCause Cause)> Named { get; init; } = [];

    /// <summary>What it was named by on a night; the first name before it was raised.</summary>
    public NamedCause NamedOn(DateOnly day) => Named.LastOrDefault(n => n.On <= day, Named[0]).Cause;

    public DateOnly OnsetFirst => DateOnly.FromDayNumber(Cause.Change.First);
    public DateOnly Onset => DateOnly.FromDayNumber(Cause.Change.Best);
    public DateOnly OnsetLast => DateOnly.FromDayNumber(Cause.Change.Last);
}
