using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>One measure of one site's sessions, day by day, with what standing problems explain of it.</summary>
internal sealed class SessionTrack
{
    private readonly Policy _policy;
    private readonly double[] _more;
    private readonly double[] _fewer;
    private readonly int[] _levels;
    private readonly Dictionary<QualityUnit, List<int>> _units = [];

    public SessionTrack(SessionMeasure measure, CaseMixModel model, IReadOnlyList<QualityCell> cells, UnitGroups groups, Policy policy)
    {
        _policy = policy;
        Measure = measure;
        var rows = new List<(DatedTrials, QualityCell)>();
        var (levels, logits) = (new List<int>(), new Dictionary<double, int>());
        var every = Enumerable.Range(0, groups.Count).Select(groups.Units).ToList();
        foreach (var unit in every.SelectMany(u => u)) _units[unit] = [];
        List<int>[][] ofGroups = [.. every.Select(units => units.Select(u => _units[u]).ToArray())];
        for (var i = 0; i < cells.Count; i++)
        {
            var cell = cells[i];
            var (trials, events) = CountMeasure.In(cell, measure, policy);
            if (trials == 0) continue;
            foreach (var own in ofGroups[groups.Of(i)]) own.Add(rows.Count);
            var logit = model.Logit(CaseMix.Of(cell));
            if (!logits.TryGetValue(logit, out var level)) logits[logit] = level = logits.Count;
            levels.Add(level);
            rows.Add((new(cell.Day.DayNumber, trials, events, logit), cell));
        }

        Rows = rows;
        _levels = [.. levels];
        Levels = [.. logits.OrderBy(l => l.Value).Select(l => l.Key)];
        (_more, _fewer) = (new double[rows.Count], new double[rows.Count]);
    }

    public SessionMeasure Measure { get; }

    /// <summary>In order of day, by case mix alone.</summary>
    public IReadOnlyList<(DatedTrials Trials, QualityCell Cell)> Rows { get; }

    /// <summary>The logits that case mix gives, each once; and which is a row's, or -1 where something is explained.</summary>
    public IReadOnlyList<double> Levels { get; }

    public int Level(int row, bool above) => (above ? _more : _fewer)[row] == 0 ? _levels[row] : -1;

    /// <summary>First day not yet judged by a closed case.</summary>
    public int Since { get; set; }

    /// <summary>Rows of a unit, in order of day.</summary>
    public IReadOnlyList<int> Of(QualityUnit unit) => _units.TryGetValue(unit, out var rows) ? rows : [];

    /// <summary>Adds a log odds ratio to what is expected of a factor's sessions from a day on. It is expected only where more of the same
    /// is looked for: what is above the ordinary because of one problem, and ordinary again, is not too little.</summary>
    public void Explain(CauseFactor factor, int from, double logOdds, bool above)
    {
        var explained = above ? _more : _fewer;
        foreach (var (i, (trials, cell)) in Rows.Index())
            if (trials.Day >= from && factor.Holds(cell, Measure, _policy)) explained[i] += logOdds;
    }

    /// <summary>A row with what is explained of it, for who looks for too many, or too few.</summary>
    public DatedTrials At(int row, bool above) => Rows[row].Trials is var trials
        ? trials with { Logit = trials.Logit + (above ? _more : _fewer)[row] } : default;

    /// <summary>Rows not judged yet, through a day, with what is explained of them.</summary>
    public List<(DatedTrials Trials, QualityCell Cell)> Through(int day, bool above) =>
        [.. Rows.Select((r, i) => (At(i, above), r.Cell)).Where(r => r.Item1.Day >= Since && r.Item1.Day <= day)];
}

/// <summary>One chart of one unit.</summary>
internal sealed class ChartLine(SessionTrack track, QualityUnit unit, WatchChart chart, double threshold, double shift)
{
    private readonly int[] _rows = [.. track.Of(unit)];
    private readonly double[] _without = [.. track.Levels.Select(l => Without(l + shift, chart))];
    private readonly double _with = Math.Log(chart.OddsRatio);
    private int _next;

    public QualityUnit Unit => unit;
    public WatchChart Chart => chart;
    public double Value { get; private set; }

    /// <summary>Added to the logit expected of the unit's infants: what ordinary units differ by.</summary>
    public double Shift => shift;

    /// <summary>A standing problem has been found to be behind it: it signals no more until that is closed.</summary>
    public bool Muted { get; set; }

    /// <summary>How far above its threshold; not positive when it does not signal.</summary>
    public double Beyond => Muted ? 0 : Value - threshold;

    private static double Without(double logit, WatchChart chart) =>
        Math.Log(1 + (chart.OddsRatio - 1) * LogisticRegression.Probability(logit));

    public void Take(int day)
    {
        var sum = 0.0;
        for (; _next < _rows.Length && track.Rows[_rows[_next]].Trials.Day <= day; _next++)
        {
            var trials = track.Rows[_rows[_next]].Trials;
            var level = track.Level(_rows[_next], chart.Above);
            var without = level >= 0 ? _without[level] : Without(track.At(_rows[_next], chart.Above).Logit + shift, chart);
            sum += trials.Events * _with - trials.Trials * without;
        }

        Value = Math.Max(0, Value + sum);
    }

    /// <summary>Runs again from the first day not judged yet, through a day: what is explained has changed.</summary>
    public void Again(int day)
    {
        Value = 0;
        _next = 0;
        while (_next < _rows.Length && track.Rows[_rows[_next]].Trials.Day < track.Since) _next++;
        while (_next < _rows.Length && track.Rows[_rows[_next]].Trials.Day <= day) Take(track.Rows[_rows[_next]].Trials.Day);
    }
}
