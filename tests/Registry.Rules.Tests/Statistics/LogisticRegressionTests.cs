using CsCheck;
using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

public sealed class LogisticRegressionTests
{
    /// <summary>Venables and Ripley, Modern Applied Statistics with S, 4th ed., section 7.2 (five decimals); digits by R 4.2.2.</summary>
    [Fact]
    public void Low_birth_weight_as_published()
    {
        var rows = PublishedTable.Read("low_birth_weight.csv").Select(r => new GroupedTrials(
            [1, r.Number("age"), r.Number("lwt"), r.Whole("race") == 2 ? 1 : 0, r.Whole("race") == 3 ? 1 : 0, r.Number("smoke"),
                r.Whole("ptl") > 0 ? 1 : 0, r.Number("ht"), r.Number("ui"), r.Whole("ftv") == 1 ? 1 : 0, r.Whole("ftv") > 1 ? 1 : 0],
            1, r.Number("low"))).ToList();
        var fit = LogisticRegression.Fit(rows);
        Assert.True(fit.Converged);
        double[] estimates =
        [
            .8230190, -.0372343, -.0156530, 1.1924132, .7406849, .7555284, 1.3437634, 1.9131659, .6801955, -.4363797, .1790085,
        ];
        double[] errors =
        [
            1.2447143, .0387024, .0070804, .5359646, .4617443, .4250166, .4806207, .7207369, .4643403, .4793936, .4563778,
        ];
        Assert.All(estimates.Zip(fit.Coefficients), p => Assert.Equal(p.First, p.Second, 1e-6));

        // R takes them at the step before the last, where its fit stops.
        Assert.All(errors.Zip(fit.StandardErrors), p => Assert.Equal(p.First, p.Second, 1e-4 * p.First));
        Assert.Equal(195.4755183, fit.Deviance, 1e-6);
    }

    /// <summary>Seeds: Crowder, Appl Stat 1978;27:34; published deviance 33.28 on 17 degrees of freedom; digits by R 4.2.2.</summary>
    [Fact]
    public void Grouped_seeds_as_published()
    {
        (int Seed, int Extract, int[] R, int[] N)[] groups =
        [
            (0, 0, [10, 23, 23, 26, 17], [39, 62, 81, 51, 39]),
            (0, 1, [5, 53, 55, 32, 46, 10], [6, 74, 72, 51, 79, 13]),
            (1, 0, [8, 10, 8, 23, 0], [16, 30, 28, 45, 4]),
            (1, 1, [3, 22, 15, 32, 3], [12, 41, 30, 51, 7]),
        ];
        var fit = LogisticRegression.Fit([.. groups.SelectMany(g => g.R.Zip(g.N).Select(p =>
            new GroupedTrials([1, g.Seed, g.Extract, g.Seed * g.Extract], p.Second, p.First)))]);
        double[] expected = [-.5581717444, .1459269493, 1.3181818702, -.7781037035];
        Assert.All(expected.Zip(fit.Coefficients), p => Assert.Equal(p.First, p.Second, 1e-8));
        Assert.Equal(33.27778569, fit.Deviance, 1e-7);
    }

    /// <summary>Observed and expected by herd: Lesnoff et al., Prev Vet Med 2004;64:77; digits by R 4.2.2.</summary>
    [Fact]
    public void Herds_observed_and_expected()
    {
        var table = PublishedTable.Read("herds.csv");
        var rows = table.Select(r => new GroupedTrials(
            [1, .. Enumerable.Range(2, 3).Select(p => r.Whole("period") == p ? 1.0 : 0)],
            r.Number("size"), r.Number("incidence"))).ToList();
        var fit = LogisticRegression.Fit(rows);
        double[] estimates = [-1.2690235, -1.1707627, -1.3014053, -1.7822786];
        Assert.All(estimates.Zip(fit.Coefficients), p => Assert.Equal(p.First, p.Second, 1e-6));
        double[] expected =
        [
            4.899606957, 7.763120143, 8.150638641, 3.906693047, 7.840586187, 7.275836998, 5.178078520, 7.460431655, 3.295447880,
            8.864225277, 10.207706014, 3.487956429, 8.921405455, 4.632962657, 7.115304139,
        ];
        var byHerd = table.Zip(rows).GroupBy(p => p.First.Whole("herd")).OrderBy(g => g.Key).Select(g => g.Sum(p =>
            p.Second.Trials * LogisticRegression.Probability(p.Second.X.Zip(fit.Coefficients).Sum(c => c.First * c.Second))));
        Assert.All(expected.Zip(byHerd), p => Assert.Equal(p.First, p.Second, 1e-6));
    }

    [Fact]
    public void A_penalty_keeps_a_separated_group_finite_and_the_total_exact()
    {
        List<GroupedTrials> rows = [new([1, 0], 100, 10), new([1, 1], 5, 0)];
        Assert.False(LogisticRegression.Fit(rows).Converged);
        var fit = LogisticRegression.Fit(rows, [0, 1 / 6.25]);
        Assert.True(fit.Converged);
        Assert.InRange(fit.Coefficients[1], -4, 0);
        Assert.Equal(10, rows.Sum(r => r.Trials * LogisticRegression.Probability(fit.Coefficients[0] + r.X[1] * fit.Coefficients[1])), 8);
    }

    /// <summary>At the maximum the derivative of the penalized likelihood is 0; a coefficient that others determine is left at 0.</summary>
    [Fact]
    public void The_fit_is_a_maximum() =>
        Gen.Select(Gen.Int[1, 60].Array[4], Gen.Double[0, 1].Array[4], Gen.Double[.01, 4]).Sample((trials, shares, penalty) =>
        {
            var rows = trials.Zip(shares).Index().Select(r => new GroupedTrials(
                [1, r.Index & 1, r.Index >> 1, 1 - (r.Index & 1)], r.Item.First, Math.Floor(r.Item.First * r.Item.Second))).ToList();
            if (rows.Sum(r => r.Events) is 0 || rows.Sum(r => r.Events) == rows.Sum(r => r.Trials)) return;
            double[] ridge = [0, penalty, penalty, penalty];
            var fit = LogisticRegression.Fit(rows, ridge);
            for (var j = 0; j < 4; j++)
                Assert.Equal(ridge[j] * fit.Coefficients[j], rows.Sum(r => r.X[j] * (r.Events - r.Trials
                    * LogisticRegression.Probability(r.X.Zip(fit.Coefficients).Sum(c => c.First * c.Second)))), 1e-6);
        });

    [Fact]
    public void What_others_say_already_gets_nothing()
    {
        var fit = LogisticRegression.Fit([new([1, 0, 1], 50, 5), new([1, 1, 0], 50, 20)]);
        Assert.Equal(0, fit.Coefficients[2]);
        Assert.Equal(double.PositiveInfinity, fit.StandardErrors[2]);
        Assert.Equal(LogisticRegression.Logit(.1), fit.Coefficients[0], 1e-8);
        Assert.Throws<ArgumentException>(() => LogisticRegression.Fit([]));
        Assert.Throws<ArgumentException>(() => LogisticRegression.Fit([new([1], 1, 1), new([1, 2], 1, 0)]));
    }
}
