using Registry.Rules;
using Registry.Rules.Quality;

namespace Registry.Bench.Quality;

/// <summary>
/// The most any method could find within some days of the refers a fault changes, told beforehand where, what and since when: by the lemma
/// of Neyman and Pearson the likelihood ratio of those days finds most of all tests that raise as many false flags. A method that looks
/// every night and does not know the day raises a flag within these days without a fault with some probability α; with the fault it
/// cannot do so more often than that test of size α does.
/// </summary>
/// <remarks>Refers by case mix before and after are taken from a million imagined sessions; the ratio's distribution from windows drawn
/// with the fault, its tail without it from the same windows, each weighted by the reciprocal of its ratio.</remarks>
internal sealed class BestPossible
{
    private const int Windows = 40_000, Sessions = 1_500_000;

    private readonly double[] _ratios;
    private readonly double[] _sizes;

    /// <param name="fault">What is wrong; its first day is of no account.</param>
    /// <param name="births">Of the region, a year.</param>
    /// <param name="days">Within which it is to be found.</param>
    public BestPossible(PlantedFault fault, int births, int days)
    {
        var start = fault.From;
        var (without, with) = (Refers(null), Refers(fault));
        var mixes = without.Keys.Where(with.ContainsKey)
            .Select(m => (Of: without[m].Trials, Before: Rate(without[m]), After: Rate(with[m]))).ToArray();
        var total = mixes.Sum(m => m.Of);
        var upTo = new double[mixes.Length];
        for (var i = 0; i < mixes.Length; i++) upTo[i] = (i == 0 ? 0 : upTo[i - 1]) + (double)mixes[i].Of / total;
        var mean = births * days / 365.25 * total / Sessions;
        var dice = new Random(7);
        var windows = Enumerable.Range(0, Windows).Select(_ => Window()).OrderDescending().ToArray();
        _ratios = windows;
        _sizes = new double[Windows];
        var size = 0.0;
        for (var i = 0; i < Windows; i++) _sizes[i] = size += Math.Exp(-windows[i]) / Windows;

        double Window()
        {
            var (ratio, count) = (0.0, ImagineSessions.Poisson(dice, mean));
            for (var i = 0; i < count; i++)
            {
                var at = Array.BinarySearch(upTo, dice.NextDouble());
                var (_, before, after) = mixes[Math.Min(at < 0 ? ~at : at, mixes.Length - 1)];
                ratio += dice.NextDouble() < after ? Math.Log(after / before) : Math.Log((1 - after) / (1 - before));
            }

            return ratio;
        }

        Dictionary<CaseMix, (long Trials, long Events)> Refers(PlantedFault? planted)
        {
            // One very busy day and its weekend would be another mix: a whole week.
            var refers = new Dictionary<CaseMix, (long Trials, long Events)>();
            foreach (var cell in new ImagineSessions(5, (int)(Sessions / 7.0 * 365.25), planted).Over(start, 7))
            {
                if (cell.Site != fault.Site || !Touched(cell)) continue;
                var (trials, events) = CountMeasure.In(cell, SessionMeasure.Referred, Policy.Default);
                if (trials == 0) continue;
                var (n, x) = refers.GetValueOrDefault(CaseMix.Of(cell));
                refers[CaseMix.Of(cell)] = (n + trials, x + events);
            }

            return refers;
        }

        bool Touched(QualityCell cell) => fault.Touches(Number(cell.Instrument), Number(cell.Probe), Number(cell.Screener), true);
        static int Number(string? code) => int.Parse(code.AsSpan(1), System.Globalization.CultureInfo.InvariantCulture) - 1;
        static double Rate((long Trials, long Events) of) => Math.Clamp((double)of.Events / of.Trials, 1e-9, 1 - 1e-9);
    }

    /// <summary>Mean logarithm of the likelihood ratio with the fault.</summary>
    public double Evidence => _ratios.Average();

    /// <summary>The largest probability of a flag with the fault, given that of one without it.</summary>
    public double Power(double size)
    {
        var at = Array.BinarySearch(_sizes, size);
        return Math.Min(1, (double)(at < 0 ? ~at : at + 1) / Windows);
    }

    /// <summary>Probability of a flag without the fault that has to be allowed for such a probability with it.</summary>
    public double Size(double power) => _sizes[Math.Clamp((int)Math.Ceiling(power * Windows) - 1, 0, Windows - 1)];
}
