using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>One measure of one site's sessions, day by day, with what standing problems explain of it.</summary>
internal sealed class SessionTrack
{
    private readonly Policy _policy;
    private readonly double[] _more;
    private readonly double[] _fewer;
    private readonly Dictionary<QualityUnit, List<int>> _units = [];

    public SessionTrack(SessionMeasure measure, CaseMixModel model, IReadOnlyList<QualityCell> cells, Policy policy)
    {
        _policy = policy;
        Measure = measure;
        var rows = new List<(DatedTrials, QualityCell)>();
        foreach (var cell in cells)
        {
            var (trials, events) = CountMeasure.In(cell, measure, policy);
            if (trials == 0) continue;
            foreach (var kind in QualityUnit.Kinds)
            {
                if (QualityUnit.Of(kind, cell) is not { } unit) continue;
                if (!_units.TryGetValue(unit, out var own)) _units[unit] = own = [];
                own.Add(rows.Count);
            }

            rows.Add((new(cell.Day.DayNumber, trials, events, model.Logit(CaseMix.Of(cell))), cell));
        }

        Rows = rows;
        (_more, _fewer) = (new double[rows.Count], new double[rows.Count]);
    }

    public SessionMeasure Measure { get; }

    /// <summary>In order of day, by case mix alone.</summary>
    public IReadOnlyList<(DatedTrials Trials, QualityCell Cell)> Rows { get; }

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

    public void Take(int day)
    {
        var sum = 0.0;
        for (; _next < _rows.Length && track.Rows[_rows[_next]].Trials.Day <= day; _next++)
        {
            var row = track.At(_rows[_next], chart.Above);
            var p = LogisticRegression.Probability(row.Logit + shift);
            sum += row.Events * Math.Log(chart.OddsRatio) - row.Trials * Math.Log(1 - p + p * chart.OddsRatio);
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
