namespace Registry.Rules.Quality;

/// <summary>A finding while it stands, with what it explains of each measure.</summary>
internal sealed class StandingProblem(UnitFinding finding, ChartLine line)
{
    /// <summary>Nights between two looks at what a problem is named by, and for how many nights after it was raised. Own choice: a week
    /// is how often it is written about, and after two months there is little left to learn.</summary>
    private const int AskEvery = 7, AskFor = 56;

    private int _asked = finding.RaisedOn.DayNumber;

    public UnitFinding Finding { get; set; } = finding;

    /// <summary>The chart that raised it.</summary>
    public ChartLine Line => line;

    /// <summary>Whether its cause is to be asked again this night. What two measures say of one part is not.</summary>
    public bool AsksAgain(int day)
    {
        if (!Stands || Finding.AlsoMeasures.Count > 0 || day < _asked + AskEvery || day > Finding.RaisedOn.DayNumber + AskFor) return false;
        _asked += (day - _asked) / AskEvery * AskEvery;
        return true;
    }

    public bool Stands => Finding.ClosedOn is null;
    public List<ProblemEffect> Effects { get; } = [];

    /// <summary>Expects what the cause explains of a measure from now on.</summary>
    public void Explain(SessionTrack track, bool above, NamedCause cause) =>
        Effects.Add(new(track, above, cause.Factor, cause.Change.Best, cause.Change.LogOdds));

    /// <summary>The same cause has changed one more measure.</summary>
    public void Join(SessionMeasure measure, QualityUnit unit)
    {
        if (measure != Finding.Measure && !Finding.AlsoMeasures.Contains(measure))
            Finding = Finding with { AlsoMeasures = [.. Finding.AlsoMeasures, measure] };
        Shadow(unit);
    }

    /// <summary>A unit whose chart signals only because of it; the one named is none.</summary>
    public void Shadow(QualityUnit unit)
    {
        if (unit == Finding.Unit || Finding.Cause.Factor.Is(unit) || Finding.Shadows.Contains(unit)) return;
        Finding = Finding with { Shadows = [.. Finding.Shadows, unit] };
    }
}

/// <summary>What a problem explains of one measure: its factor's sessions from a day on have their odds multiplied.</summary>
internal sealed class ProblemEffect
{
    private readonly CauseFactor _factor;
    private int _from;
    private double _logOdds;
    private bool _ended;

    public ProblemEffect(SessionTrack track, bool above, CauseFactor factor, int from, double logOdds)
    {
        (Track, Above, _factor, _from, _logOdds) = (track, above, factor, from, logOdds);
        track.Explain(factor, from, logOdds, above);
    }

    public SessionTrack Track { get; }
    public bool Above { get; }

    /// <summary>Estimates it again from all days so far: a fault may grow.</summary>
    public void Renew(int day, Policy policy)
    {
        if (_ended) return;
        var rows = Track.Through(day, Above).Where(r => r.Trials.Day >= _from && _factor.Holds(r.Cell, Track.Measure, policy))
            .Select(r => r.Trials with { Logit = r.Trials.Logit - _logOdds }).ToList();
        var renewed = DateChange.Estimate(rows, Above, NameCause.Spread).LogOdds;
        Track.Explain(_factor, _from, renewed - _logOdds, Above);
        _logOdds = renewed;
    }

    /// <summary>Explains nothing, until it is estimated again.</summary>
    public void Forget()
    {
        if (_ended) return;
        Track.Explain(_factor, _from, -_logOdds, Above);
        _logOdds = 0;
    }

    /// <summary>Estimates anew since when as well: what else explained a part of it no longer does.</summary>
    public void DateAgain(int day, Policy policy)
    {
        if (_ended) return;
        Forget();
        List<DatedTrials> rows =
            [.. Track.Through(day, Above).Where(r => _factor.Holds(r.Cell, Track.Measure, policy)).Select(r => r.Trials)];
        if (DateChange.Of(rows, Above, NameCause.Spread) is not { } change) return;
        (_from, _logOdds) = (change.Best, change.LogOdds);
        Track.Explain(_factor, _from, _logOdds, Above);
    }

    /// <summary>Explains nothing after a day.</summary>
    public void End(int day)
    {
        if (_ended) return;
        _ended = true;
        Track.Explain(_factor, Math.Max(_from, day + 1), -_logOdds, Above);
    }
}
