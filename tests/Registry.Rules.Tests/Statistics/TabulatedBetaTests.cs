using MathNet.Numerics.Distributions;
using Registry.Rules.Statistics;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

/// <summary>Against a reference library (MathNet.Numerics: regularized incomplete beta function, its inverse by a root finder).</summary>
public sealed class TabulatedBetaTests
{
    public static TheoryData<double, double> Parameters()
    {
        var all = new TheoryData<double, double>();
        foreach (var a in new[] { .1, .3, 1, 2.5, 20, 700, 9_000 })
            foreach (var b in new[] { 1, 8.5, 150, 40_000 })
                all.Add(a, b);
        return all;
    }

    [Theory]
    [MemberData(nameof(Parameters))]
    public void It_is_the_beta_distribution(double a, double b)
    {
        var table = new TabulatedBeta(a, b);
        foreach (var p in new[] { 1e-6, .001, .025, .1, .3, .5, .7, .9, .975, .999, 1 - 1e-6 })
        {
            var x = Beta.InvCDF(a, b, p);
            if (x is <= 1e-12 or >= 1 - 1e-9) continue; // what lies nearer to 0 or 1 the library's inverse does not tell apart
            Assert.Equal(Beta.CDF(a, b, x), table.Below(x), 2e-6);
            Assert.Equal(p, Beta.CDF(a, b, table.Quantile(p)), 2e-6);
        }
    }

    [Theory]
    [InlineData(0, 0)]
    [InlineData(1, 1)]
    public void Beyond_its_ends_nothing_or_everything_lies_below(double x, double below) =>
        Assert.Equal(below, new TabulatedBeta(3, 40).Below(x));
}
