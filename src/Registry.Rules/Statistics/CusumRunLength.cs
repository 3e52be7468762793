namespace Registry.Rules.Statistics;

/// <summary>One possible step of a cumulative sum, and how likely it is.</summary>
public readonly record struct CusumStep(double Change, double Probability);

/// <summary>
/// How long a cumulative sum with a floor at 0 runs until it reaches a threshold, by a Markov chain on a grid (Brook and Evans, Biometrika
/// 1972;59:539; from memory): the probability of each step is shared between the two grid points around where it leads, so that
/// the mean is kept.
/// </summary>
/// <param name="threshold">h, positive.</param>
/// <param name="points">Of the grid between 0 and h.</param>
public sealed class CusumRunLength(double threshold, int points)
{
    private readonly double _width = threshold / points;
    private double[] _mass = Start(points);
    private double[] _next = new double[points];

    /// <summary>Probability of not having signaled yet.</summary>
    public double Running { get; private set; } = 1;

    /// <summary>One look: every step of <paramref name="steps"/> with its probability.</summary>
    /// <returns>Probability of a signal now, given none before.</returns>
    public double Take(IReadOnlyList<CusumStep> steps)
    {
        Array.Clear(_next);
        foreach (var (change, probability) in steps)
        {
            var moved = change / _width;
            var whole = (int)Math.Floor(moved);
            var upper = probability * (moved - whole);
            var lower = probability - upper;

            // What falls below 0 is at 0; what reaches the end has signaled.
            var first = Math.Min(Math.Max(0, -whole), _mass.Length);
            for (var i = 0; i < first; i++) _next[0] += _mass[i] * probability;
            var last = Math.Min(_mass.Length, _mass.Length - whole);
            for (var i = first; i < last; i++) _next[i + whole] += _mass[i] * lower;
            last = Math.Min(_mass.Length, _mass.Length - whole - 1);
            for (var i = first; i < last; i++) _next[i + whole + 1] += _mass[i] * upper;
        }

        (_mass, _next) = (_next, _mass);
        var left = _mass.Sum();
        var before = Running;
        Running = left;
        return before > 0 ? 1 - left / before : 1;
    }

    /// <summary>Begins where a chart that has long run about is: half the time at 0, above it falling as e^−value does, as a sum of
    /// log-likelihood ratios must.</summary>
    public void StartRunning()
    {
        var total = Enumerable.Range(1, _mass.Length - 1).Sum(i => Math.Exp(-i * _width));
        for (var i = 1; i < _mass.Length; i++) _mass[i] = .5 * Math.Exp(-i * _width) / total;
        _mass[0] = 1 - _mass.Skip(1).Sum();
    }

    /// <summary>Forgets how long it has run: the distribution of the value, given no signal yet.</summary>
    public void Renew()
    {
        for (var i = 0; i < _mass.Length; i++) _mass[i] /= Running;
        Running = 1;
    }

    /// <summary>Mean number of looks until a signal from 0, every look alike.</summary>
    public static double Mean(IReadOnlyList<CusumStep> steps, double threshold, int points = 2000)
    {
        var chain = new CusumRunLength(threshold, points);
        double sum = 0, before = 0;
        while (chain.Running > 1e-12)
        {
            sum += chain.Running;
            var hazard = chain.Take(steps);

            // Once the hazard no longer changes the rest is geometric.
            if (hazard > 1e-12 && Math.Abs(hazard - before) < 1e-9 * hazard) return sum + chain.Running / hazard;
            before = hazard;
        }

        return sum;
    }

    private static double[] Start(int points)
    {
        var mass = new double[points];
        mass[0] = 1;
        return mass;
    }
}
