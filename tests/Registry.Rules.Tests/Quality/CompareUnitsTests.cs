using Registry.Rules.Facts;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Quality;

/// <summary>Every unit beside the others: published counts where there are any, else the plainest computation.</summary>
public sealed class CompareUnitsTests
{
    private static readonly Policy Policy = Policy.Default;
    private static readonly DateOnly Begin = new(2026, 1, 1);

    /// <summary>Herds as sites (Lesnoff et al., Prev Vet Med 2004;64:77), all expected at the rate of all, 99 of 842. With each herd's
    /// expectation taken from the others alone; φ is then not the published one, which has one target for all.</summary>
    [Fact]
    public void Published_herds_each_beside_the_others()
    {
        var herds = PublishedTable.Read("herds.csv").GroupBy(r => r["herd"])
            .Select(g => (Code: g.Key, Cases: (int)g.Sum(r => r.Whole("incidence")), Size: (int)g.Sum(r => r.Whole("size")))).ToList();
        var compared = Of(herds.Select(h => Cell(h.Code, h.Size, h.Cases)), 99.0 / 842);
        Assert.Equal((842, 99), (compared.Trials, compared.Observed));
        foreach (var herd in herds)
        {
            var unit = compared.Units.Single(u => u.Unit.Code == herd.Code);
            // Odds of 99/842 times what the others have over their expectation.
            var ratio = (99.0 - herd.Cases) / ((842 - herd.Size) * 99.0 / 842);
            var odds = 99.0 / 743 * ratio;
            var expected = herd.Size * odds / (1 + odds);
            Assert.Equal(expected, unit.Expected, 1e-9);
            Assert.Equal(herd.Cases / expected, unit.Ratio!.Value, 1e-9);
            Assert.Equal(99.0 / 842 * herd.Cases / expected, unit.Standardized!.Value, 1e-9);
            Assert.Equal(UpperMidP(herd.Size, odds / (1 + odds), herd.Cases), unit.TooMany, 1e-9);
            var (own, theirs) = ((double)herd.Cases / herd.Size, expected / herd.Size);
            Assert.InRange(unit.Shrunken.Rate, Math.Min(own, theirs), Math.Max(own, theirs));
            Assert.True(Math.Abs(unit.Additive) <= Math.Abs(unit.Multiplicative) * Math.Sqrt(compared.Spread.Phi));
        }

        // 11 of 26, 12 of 40 and 12 of 34.
        Assert.Equal(["14", "7", "8"], compared.Units.Where(u => u is { AdjustedP: < .05, Ratio: > 2 }).Select(u => u.Unit.Code).Order());
        Assert.All(compared.Units, u => Assert.True(u.Rank!.Value.Highest > u.Rank.Value.Lowest));
    }

    [Fact]
    public void Days_hours_and_their_order_do_not_matter_and_rescreens_are_not_in_it()
    {
        List<QualityCell> cells =
        [
            .. Enumerable.Range(0, 300).Select(i => Cell($"s{i % 4}", 1, i % 11 == 0 ? 1 : 0) with
            {
                Day = Begin.AddDays(i % 50),
                Hour = i % 24,
                Probe = $"P{i % 3}",
            }),
        ];
        var one = Compared(cells, .1);
        var other = Compared([.. Enumerable.Reverse(cells), Cell("s1", 50, 50) with { Rescreens = true }], .1);
        Assert.Equal(one.SelectMany(k => k.Units).Select(u => (u.Unit, u.Trials, u.Observed)),
            other.SelectMany(k => k.Units).Select(u => (u.Unit, u.Trials, u.Observed)));
        foreach (var (a, b) in one.SelectMany(k => k.Units).Zip(other.SelectMany(k => k.Units)))
            Assert.Equal((a.Expected, a.AdjustedP, a.Shrunken.Rate), (b.Expected, b.AdjustedP, b.Shrunken.Rate));
        Assert.Equal(12, one.Single(k => k.Kind == QualityUnitKind.Probe).Units.Count);
    }

    /// <summary>Nobody differs: no interval, no chance of being far above, no place, no mark.</summary>
    [Fact]
    public void Where_nobody_differs_nothing_is_claimed()
    {
        var alike = Of(Enumerable.Range(0, 8).Select(i => Cell($"s{i}", 200, 20)), .1).Units;
        Assert.All(alike, u => Assert.True(u is { Shrunken: { Limits: null, FarAbove: null }, Rank: null }));
        Assert.All(alike, u => Assert.Equal(0, CompareUnits.Beyond(u.AdjustedP, u.Additive)));
    }

    /// <summary>One that refers far more is marked, and one that refers nobody; what is adjusted is over everything.</summary>
    [Fact]
    public void Too_many_and_too_few_are_marked()
    {
        List<(int Cases, string Code)> all = [(60, "many"), (0, "none"), .. Enumerable.Range(0, 20).Select(i => (18 + i % 5, $"s{i}"))];
        var units = Of(all.Select(a => Cell(a.Code, 250, a.Cases)), .08).Units;
        Assert.Equal([("many", 1), ("none", -1)],
            units.Select(u => (u.Unit.Code, Mark: CompareUnits.Beyond(u.AdjustedP, u.Additive))).Where(u => u.Mark != 0));
        Assert.Equal(BenjaminiHochberg.Adjust([.. units.Select(u => Math.Min(1, 2 * Math.Min(u.TooMany, u.TooFew)))]),
            units.Select(u => u.AdjustedP));
        Assert.True(units.Single(u => u.Unit.Code == "many").Shrunken.FarAbove > .99);
    }

    private static ComparedKind Of(IEnumerable<QualityCell> cells, double rate) =>
        Compared(cells, rate).Single(k => k.Kind == QualityUnitKind.Site);

    private static IReadOnlyList<ComparedKind> Compared(IEnumerable<QualityCell> cells, double rate) => CompareUnits.Of(cells,
        [new(SessionMeasure.Referred, 1, Begin, Begin, 1, 1, [new(null, null, false, null, LogisticRegression.Logit(rate))])], Policy);

    private static QualityCell Cell(string site, int sessions, int referred) => new(
        site, null, null, null, Begin, 9, ScreeningMethod.Teoae, AgeBand.Under30, false, GestationBand.Term, sessions, sessions, referred,
        0, 0, 0);

    /// <summary>P(X > x) + P(X = x)/2 by adding logarithms.</summary>
    private static double UpperMidP(int n, double p, int x)
    {
        var sum = 0.0;
        for (var k = x; k <= n; k++)
        {
            var log = 0.0;
            for (var i = 1; i <= k; i++) log += Math.Log((n - k + i) / (double)i);
            sum += Math.Exp(log + (k * Math.Log(p)) + ((n - k) * Math.Log(1 - p))) * (k == x ? .5 : 1);
        }

        return sum;
    }
}
