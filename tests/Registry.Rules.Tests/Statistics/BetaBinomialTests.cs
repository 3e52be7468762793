using System.Globalization;
using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

/// <summary>Fits of published data; digits by R 4.2.2, direct maximization.</summary>
public sealed class BetaBinomialTests
{
    /// <summary>Rats: Weil, Food Cosmet Toxicol 1970;8:177, Williams, Biometrics 1975;31:949. Seeds: Crowder, Appl Stat
    /// 1978;27:34.</summary>
    [Theory]
    [InlineData("13 12 9 9 8 8 12 11 9 9 8 11 4 5 7 7", "13 12 9 9 8 8 13 12 10 10 9 13 5 7 10 10", .897975963, .020612748, -21.253527978)]
    [InlineData("12 11 10 9 10 9 9 8 8 4 7 4 5 3 3 0", "12 11 10 9 11 10 10 9 9 5 9 7 10 6 10 7", .740006753, .465063563, -31.531689025)]
    [InlineData("10 23 23 26 17", "39 62 81 51 39", .368672599, .017629149, -14.943521163)]
    [InlineData("5 53 55 32 46 10", "6 74 72 51 79 13", .684741081, .009888783, -14.990793301)]
    [InlineData("8 10 8 23 0", "16 30 28 45 4", .389005650, .016534988, -11.831943255)]
    [InlineData("3 22 15 32 3", "12 41 30 51 7", .529542653, .001926426, -11.899891364)]
    public void Published_counts(string events, string trials, double mean, double theta, double logLikelihood)
    {
        var units = Numbers(events).Zip(Numbers(trials), (x, n) => new Proportion(x, n)).ToList();
        var fit = BetaBinomial.Fit(units);
        Assert.Equal(mean, fit.Mean, 1e-5);
        Assert.Equal(theta, fit.Theta, theta * 1e-3);
        Assert.Equal(logLikelihood, fit.LogLikelihood(units), 1e-6);
    }

    private static IEnumerable<long> Numbers(string text) => text.Split(' ').Select(n => long.Parse(n, CultureInfo.InvariantCulture));

    /// <summary>Herds: Lesnoff et al., Prev Vet Med 2004;64:77.</summary>
    [Fact]
    public void Herds_shrunken()
    {
        var units = PublishedTable.Read("herds.csv").GroupBy(r => r.Whole("herd")).OrderBy(g => g.Key)
            .Select(g => new Proportion(g.Sum(r => r.Whole("incidence")), g.Sum(r => r.Whole("size")))).ToList();
        var fit = BetaBinomial.Fit(units);
        Assert.Equal(.1404866144, fit.Mean, 1e-6);
        Assert.Equal(.07170342842, fit.Theta, 1e-6);
        Assert.Equal(-44.39990232, fit.LogLikelihood(units), 1e-7);
        double[] rates =
        [
            .203151, .092857, .158725, .121751, .093698, .069337, .258762, .291144, .092191, .060842, .099678, .115476, .049128, .324417,
            .063624,
        ];
        double[] above =
        [
            .956945, .214503, .858646, .491492, .211072, .054501, .997265, .999231, .250489, .022076, .248513, .434235, .006096, .999647,
            .042083,
        ];
        foreach (var (i, unit) in units.Index())
        {
            var shrunken = BetaBinomial.Shrink(new(unit, fit.Mean), fit.Theta, 99.0 / 842 / fit.Mean);
            Assert.Equal(rates[i], shrunken.Rate, 1e-5);
            Assert.Equal(above[i], shrunken.FarAbove!.Value, 1e-4);
            Assert.InRange(shrunken.Rate, shrunken.Limits!.Value.Lower, shrunken.Limits.Value.Upper);
        }
    }

    [Fact]
    public void Units_that_are_alike_do_not_differ()
    {
        var alike = Enumerable.Range(0, 12).Select(i => new Proportion(8 + (i % 2), 100)).ToList();
        var fit = BetaBinomial.Fit(alike);
        Assert.Equal(0, fit.Theta);
        Assert.Equal(.085, fit.Mean, 12);
        Assert.Equal(0, BetaBinomial.Spread([.. alike.Select(u => new ExpectedCount(u, .085))]));
        Assert.Equal(new ShrunkenRate(.085, null, null), BetaBinomial.Shrink(new(alike[0], .085), 0, 1.5));
        Assert.Throws<ArgumentException>(() => BetaBinomial.Fit([new(0, 10), new(0, 20)]));
    }

    /// <summary>Three units that cannot be told apart stand anywhere; one far away stands first for certain.</summary>
    [Fact]
    public void Ranks_say_how_little_they_say()
    {
        var ranks = RankUncertainty.Of([(5, 95), (5, 95), (5, 95), (400, 600)]);
        Assert.Equal((1, 1), (ranks[3].Lowest, ranks[3].Highest));
        Assert.All(ranks[..3], r => Assert.Equal((2, 4), (r.Lowest, r.Highest)));
        Assert.All(ranks[..3], r => Assert.Equal(3, r.Mean, .02));
    }
}
