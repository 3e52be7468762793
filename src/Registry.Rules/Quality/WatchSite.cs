using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>
/// The nights of one site. Problems of different sites do not explain each other, so each is looked at alone. A chart that signals is first
/// asked whether a standing problem, estimated anew, explains it; then the cause is named; the same cause in the same direction as a
/// standing problem's joins it, another is raised. From then on what it explains is expected, so that its shadows do not signal.
/// </summary>
internal sealed class WatchSite
{
    private readonly Policy _policy;
    private readonly Queue<ClosedCase> _closed;
    private readonly int[] _days;
    private readonly string _site;
    private readonly Dictionary<SessionMeasure, SessionTrack> _tracks = [];
    private readonly List<ChartLine> _lines = [];
    private readonly List<StandingProblem> _problems = [];

    /// <param name="plan">Thresholds and case mix.</param>
    /// <param name="cells">Of one site, in order of day.</param>
    /// <param name="closed">Cases of the site that were closed.</param>
    /// <param name="policy">What is early.</param>
    public WatchSite(WatchPlan plan, IReadOnlyList<QualityCell> cells, ClosedCase[] closed, Policy policy)
    {
        (_policy, _site) = (policy, cells[0].Site);
        _days = [.. cells.Select(c => c.Day.DayNumber).Distinct()];
        var groups = new UnitGroups(cells);
        foreach (var (measure, model) in plan.Models) _tracks[measure] = new(measure, model, cells, groups, policy);
        _closed = new(closed.Where(c => _tracks.ContainsKey(c.Measure)).OrderBy(c => c.On));
        foreach (var unit in groups.Apart().Union(plan.Thresholds.Keys.Where(u => u.Site == _site)))
        {
            if (plan.Of(unit) is not { } thresholds) continue;
            foreach (var (i, chart) in WatchChart.All.Index())
                if (_tracks.TryGetValue(chart.Measure, out var track) && !double.IsNaN(thresholds[i]))
                    _lines.Add(new(track, unit, chart, thresholds[i], plan.Shift(unit.Kind, chart)));
        }
    }

    public IEnumerable<UnitFinding> Look()
    {
        foreach (var day in _days)
        {
            while (_closed.TryPeek(out var next) && next.On.DayNumber < day) Close(_closed.Dequeue());
            foreach (var line in _lines) line.Take(day);
            foreach (var problem in _problems.Where(p => p.AsksAgain(day)).ToList()) NameAgain(problem, day);
            while (_lines.MaxBy(l => l.Beyond) is { Beyond: > 0 } line) Answer(line, day);
        }

        // A small site may have seen nobody since.
        while (_closed.TryDequeue(out var last)) Close(last);
        return _problems.Select(p => p.Finding);
    }

    private void Close(ClosedCase closed)
    {
        var tracks = new HashSet<SessionTrack> { _tracks[closed.Measure] };
        var standing = _problems.FindAll(p => p.Stands && (p.Finding.Measure, p.Finding.Above) == (closed.Measure, closed.Above));
        var named = standing.FindAll(p => p.Finding.Cause.Factor == closed.Factor);
        foreach (var problem in named.Count > 0 ? named : standing.FindAll(p => p.Finding.Named.Any(n => n.Cause.Factor == closed.Factor)))
        {
            problem.Finding = problem.Finding with { ClosedOn = closed.On };
            foreach (var effect in problem.Effects)
            {
                effect.End(closed.On.DayNumber);
                tracks.Add(effect.Track);
            }
        }

        foreach (var track in tracks) track.Since = closed.On.DayNumber + 1;
        foreach (var line in _lines.Where(l => tracks.Contains(_tracks[l.Chart.Measure])))
        {
            line.Muted = false;
            line.Again(closed.On.DayNumber);
        }
    }

    private void Answer(ChartLine line, int day)
    {
        var (measure, above) = (line.Chart.Measure, line.Chart.Above);
        var track = _tracks[measure];
        var standing = _problems.Where(p => p.Stands && p.Effects.Exists(e => e.Track == track && e.Above == above)).ToList();
        foreach (var problem in standing)
        {
            foreach (var effect in problem.Effects.Where(e => e.Track == track && e.Above == above)) effect.Renew(day, _policy);
            Again(track, day);
            if (line.Beyond > 0) continue;
            problem.Shadow(line.Unit);
            return;
        }

        if (Name(line, day) is { } cause)
        {
            var problem = _problems.Find(p => p.Stands && p.Finding.Above == above && (p.Finding.Cause.Factor == cause.Factor
                || cause.Same.Contains(p.Finding.Cause.Factor)));
            if (problem is null) _problems.Add(problem = new(Raise(line, track, cause, day), line));
            else problem.Join(measure, line.Unit);
            problem.Explain(track, above, cause);
            Again(track, day);
            Absorb(problem, track, above, day);
        }

        line.Muted = line.Beyond > 0;
    }

    private NamedCause? Name(ChartLine line, int day)
    {
        var (measure, above) = (line.Chart.Measure, line.Chart.Above);
        CauseFactor[] known = [.. _problems.Where(p => p.Stands && p.Finding.Measure != measure && p.Finding.Cause.Factor.Kind
            is CauseKind.Instrument or CauseKind.Probe or CauseKind.Screener or CauseKind.EarlyTests).Select(p => p.Finding.Cause.Factor)];

        // Dated against what is ordinary, stated against what is expected.
        return NameCause.Of(Ordinary(line, day), measure, above, known, _policy) is { } named
            ? named with { Change = named.Change with { LogOdds = named.Change.LogOdds + line.Shift } } : null;
    }

    /// <summary>Sessions of a chart's measure with what is expected of ordinary units of its kind.</summary>
    private List<(DatedTrials Trials, QualityCell Cell)> Ordinary(ChartLine line, int day) => _tracks[line.Chart.Measure]
        .Through(day, line.Chart.Above).ConvertAll(r => (r.Trials with { Logit = r.Trials.Logit + line.Shift }, r.Cell));

    /// <summary>A cause named early is named from little: a week later it is asked again, as if it had just been raised. What began
    /// after it was raised is not behind it. The evidence it was raised with stays.</summary>
    private void NameAgain(StandingProblem problem, int day)
    {
        var (line, finding) = (problem.Line, problem.Finding);
        var track = _tracks[finding.Measure];
        foreach (var effect in problem.Effects) effect.Forget();
        if (Name(line, day) is { } cause && cause.Factor != finding.Cause.Factor
            && cause.Change.Best <= finding.RaisedOn.DayNumber && !_problems.Exists(p => p != problem && p.Stands
            && p.Finding.Cause.Factor == cause.Factor && p.Finding.Measure == finding.Measure && p.Finding.Above == finding.Above))
        {
            cause = cause with
            {
                Change = cause.Change with { Last = Math.Min(cause.Change.Last, finding.RaisedOn.DayNumber) },
            };
            problem.Effects.Clear();
            var raised = Raise(line, track, cause, day);
            problem.Finding = finding with { Cause = raised.Cause, Named = [.. finding.Named, .. raised.Named] };
            problem.Explain(track, finding.Above, cause);
        }
        else
        {
            foreach (var effect in problem.Effects) effect.Renew(day, _policy);
        }

        Again(track, day);
    }

    /// <summary>What was raised before its cause was known: a problem without which nothing signals any more, now that another explains
    /// what it did, is one of its shadows.</summary>
    private void Absorb(StandingProblem problem, SessionTrack track, bool above, int day)
    {
        foreach (var other in _problems.Where(p => p != problem && p.Stands && p.Finding.Measure == track.Measure
            && p.Finding.Above == above).ToList())
        {
            foreach (var effect in other.Effects.Where(e => e.Track == track)) effect.Forget();
            Each(problem, e => e.DateAgain(day, _policy));
            if (!_lines.Exists(l => l.Chart.Measure == track.Measure && l.Chart.Above == above && l.Beyond > 0))
            {
                foreach (var effect in other.Effects) effect.End(day);
                other.Finding = other.Finding with
                {
                    ClosedOn = DateOnly.FromDayNumber(day),
                    ExplainedBy = problem.Finding.Cause.Factor,
                };
                problem.Shadow(other.Finding.Unit);
                continue;
            }

            Each(other, e => e.Renew(day, _policy));
            Each(problem, e => e.DateAgain(day, _policy));
        }

        void Each(StandingProblem estimated, Action<ProblemEffect> estimate)
        {
            foreach (var effect in estimated.Effects.Where(e => e.Track == track && e.Above == above)) estimate(effect);
            Again(track, day);
        }
    }

    private void Again(SessionTrack track, int day)
    {
        foreach (var line in _lines.Where(l => l.Chart.Measure == track.Measure))
        {
            var before = line.Beyond > 0;
            line.Again(day);
            if (before && line.Beyond <= 0)
                _problems.Find(p => p.Stands && p.Effects.Exists(e => e.Track == track && e.Above == line.Chart.Above))?.Shadow(line.Unit);
        }
    }

    private UnitFinding Raise(ChartLine line, SessionTrack track, NamedCause cause, int day)
    {
        var above = line.Chart.Above;
        cause = NameCause.MayHaveGrown(cause, Ordinary(line, day), track.Measure, _policy);
        var rows = track.Through(day, above).Where(r => r.Trials.Day >= cause.Change.Best).ToList();
        var held = rows.Where(r => cause.Factor.Holds(r.Cell, track.Measure, _policy)).Select(r => r.Trials).ToList();
        var (delta, error) = (cause.Change.LogOdds, cause.Change.StandardError);
        var excess = Excess(rows.Select(r => r.Trials));
        return new(_site, line.Unit, track.Measure, above, DateOnly.FromDayNumber(day), cause,
            held.Sum(r => r.Trials), held.Sum(r => r.Events), held.Sum(r => r.Trials * LogisticRegression.Probability(r.Logit)),
            new(Math.Exp(delta), Math.Exp(delta - 1.96 * error), Math.Exp(delta + 1.96 * error)),
            above ? excess > 0 ? Share(delta, error) : null : excess < 0 ? Share(delta, -error) : null, [], [], null)
        {
            Named = [(DateOnly.FromDayNumber(day), cause)],
        };

        Estimate Share(double at, double spread) => new(Part(at), Part(at - 1.96 * spread), Part(at + 1.96 * spread));
        double Part(double at) => Math.Clamp(held.Sum(r => r.Trials * (LogisticRegression.Probability(r.Logit + at)
            - LogisticRegression.Probability(r.Logit))) / excess, 0, 1);
    }

    private static double Excess(IEnumerable<DatedTrials> rows) =>
        rows.Sum(r => r.Events - r.Trials * LogisticRegression.Probability(r.Logit));
}
