using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Xunit;

namespace Registry.Rules.Tests.Quality;

public sealed class FlagHighRatesTests
{
    [Fact]
    public void A_unit_far_above_the_rest_is_flagged_and_the_rest_is_not()
    {
        var units = Enumerable.Range(0, 20).Select(_ => new Proportion(20, 500)).Append(new Proportion(60, 500)).ToList();
        var compared = FlagHighRates.Compare(units);
        Assert.All(compared[..20], c => Assert.False(c.High));
        Assert.True(compared[20].High);
        Assert.Equal((20 * 20 + 60) / (21 * 500.0), compared[20].Target!.Value, 12);
    }

    [Fact]
    public void A_tiny_unit_is_not_flagged_for_one_bad_day()
    {
        var units = Enumerable.Range(0, 20).Select(_ => new Proportion(20, 500)).Append(new Proportion(2, 6)).ToList();
        Assert.False(FlagHighRates.Compare(units)[20].High);
    }

    [Fact]
    public void Low_rates_no_data_and_a_region_without_events_are_never_flagged()
    {
        Assert.All(FlagHighRates.Compare([new(0, 400), new(40, 400), new(0, 0)]).Index().Where(c => c.Index != 1),
            c => Assert.False(c.Item.High));
        Assert.Null(FlagHighRates.Compare([new(0, 0)])[0].Target);
        Assert.All(FlagHighRates.Compare([new(0, 10), new(0, 20)]), c => Assert.False(c.High));
        Assert.All(FlagHighRates.Compare([new(10, 10), new(20, 20)]), c => Assert.False(c.High));
    }

    /// <summary>Under the null, with 200 units each at the same rate, flags are rare: a fixed stream of binomial counts gives none or
    /// almost none.</summary>
    [Fact]
    public void Chance_alone_is_hardly_ever_flagged()
    {
        var state = 12345u;
        double Next() => (state = state * 1664525u + 1013904223u) / (double)uint.MaxValue;
        var flags = 0;
        for (var round = 0; round < 50; round++)
        {
            var units = Enumerable.Range(0, 40)
                .Select(i => new Proportion(Enumerable.Range(0, 100 + 10 * i).Count(_ => Next() < .05), 100 + 10 * i)).ToList();
            flags += FlagHighRates.Compare(units).Count(c => c.High);
        }

        Assert.InRange(flags, 0, 4); // 2,000 units; the funnel limit alone would flag about 2
    }
}
