using Registry.Rules.Statistics;
using Registry.SiteQuality;

namespace Registry.Tests.SiteQuality;

/// <summary>A limit of the drawing lies as far from the target as the z it stands for.</summary>
public sealed class DrawFunnelTests
{
    [Theory]
    [InlineData(.08, 40, .025)]
    [InlineData(.08, 40, .999)]
    [InlineData(.02, 300, .975)]
    public void Limits_are_exact_and_as_wide_as_ordinary_differences(double target, double expected, double p)
    {
        var exact = FunnelLimits.At(target, (int)Math.Round(expected / target), p);
        Assert.Equal(exact, DrawFunnel.Widened(target, expected, p, new(1, 0)), 1e-12);
        var spread = new OddsSpread(3, .04);
        var variance = expected * (1 - target);
        var widened = DrawFunnel.Widened(target, expected, p, spread);
        var chance = new OddsSpread(1, 0);
        Assert.Equal(spread.Additive(1, variance) * (widened - target), chance.Additive(1, variance) * (exact - target), 1e-12);
    }

    [Fact]
    public void A_limit_below_nothing_is_nothing() => Assert.Equal(0, DrawFunnel.Widened(.08, 5, .001, new(9, 1)));
}
