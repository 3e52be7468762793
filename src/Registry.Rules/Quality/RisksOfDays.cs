using Registry.Rules.Statistics;

namespace Registry.Rules.Quality;

/// <summary>
/// Days of infants by risk, each risk once: of many thousand infants few risks differ, so that what a change would cost is a logarithm for
/// each risk and not for each infant.
/// </summary>
internal sealed class RisksOfDays
{
    private readonly IReadOnlyList<DatedTrials> _rows;
    private readonly int[] _level;
    private readonly List<int> _begins = [];
    private readonly List<double> _logits = [];
    private readonly double[] _risks;

    /// <param name="rows">In order of day.</param>
    public RisksOfDays(IReadOnlyList<DatedTrials> rows)
    {
        _rows = rows;
        _level = new int[rows.Count];
        var known = new Dictionary<double, int>();
        for (var i = 0; i < rows.Count; i++)
        {
            if (i == 0 || rows[i].Day != rows[i - 1].Day) _begins.Add(i);
            if (!known.TryGetValue(rows[i].Logit, out var level))
            {
                known[rows[i].Logit] = level = _logits.Count;
                _logits.Add(rows[i].Logit);
            }

            _level[i] = level;
        }

        _risks = [.. _logits.Select(LogisticRegression.Probability)];
    }

    /// <summary>Days with infants.</summary>
    public int Count => _begins.Count;

    public int Day(int at) => _rows[_begins[at]].Day;

    /// <summary>ln(1 − p + p·e^δ) of each risk.</summary>
    public double[] Costs(double delta)
    {
        var odds = Math.Exp(delta);
        return [.. _risks.Select(p => Math.Log(1 - p + p * odds))];
    }

    /// <summary>What a day adds to the logarithm of the likelihood ratio of δ: y·δ − n·cost.</summary>
    public double Gain(int at, double delta, double[] costs)
    {
        var (sum, end) = (0.0, at + 1 < _begins.Count ? _begins[at + 1] : _rows.Count);
        for (var i = _begins[at]; i < end; i++) sum += _rows[i].Events * delta - _rows[i].Trials * costs[_level[i]];
        return sum;
    }
}
