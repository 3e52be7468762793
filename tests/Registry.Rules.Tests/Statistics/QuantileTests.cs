using Registry.Rules.Statistics;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

public sealed class QuantileTests
{
    /// <summary>The worked example that accompanies the alternative method of the NIST/SEMATECH e-Handbook, section 7.2.6.2 (rank 1 + p (N
    /// - 1)), in the encyclopaedia article on percentiles: the 40th percentile of 15, 20, 35, 40, 50 is 29 (26 by the handbook's first
    /// method, which we do not use).</summary>
    [Fact]
    public void The_published_example_is_met() => Assert.Equal(29, Quantile.Of([15, 20, 35, 40, 50], 0.4)!.Value, 12);

    [Fact]
    public void Ends_middle_and_tiny_samples()
    {
        Assert.Equal([1.0, 2.5, 4], new[] { 0, 0.5, 1 }.Select(p => Quantile.Of([1, 2, 3, 4], p)!.Value));
        Assert.Equal(7, Quantile.Of([7], 0.9));
        Assert.Null(Quantile.Of([], 0.5));
        Assert.Throws<ArgumentOutOfRangeException>(() => Quantile.Of([1], 1.1));
        Assert.Throws<ArgumentOutOfRangeException>(() => Quantile.Of([1], double.NaN));
    }
}
