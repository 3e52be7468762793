using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

public sealed class DiscriminationTests
{
    /// <summary>109 computed tomography images, rated from 1 to 5: Hanley and McNeil, Radiology 1982;143:29, table 1; area 0.893, standard
    /// error 0.032 (three decimals; from memory).</summary>
    [Fact]
    public void Rated_images_as_published()
    {
        int[] normal = [33, 6, 6, 11, 2], abnormal = [3, 2, 2, 11, 33];
        List<(double, bool)> rated = [];
        foreach (var rating in Enumerable.Range(0, 5))
        {
            rated.AddRange(Enumerable.Repeat((rating + 1.0, false), normal[rating]));
            rated.AddRange(Enumerable.Repeat((rating + 1.0, true), abnormal[rating]));
        }

        var area = Discrimination.Of(rated)!.Value;
        Assert.Equal(.893, area.Area, 5e-4);
        Assert.Equal(.032, area.StandardError, 6e-4);
    }

    [Fact]
    public void The_area_is_the_share_of_pairs_in_the_right_order()
    {
        Assert.Equal(1, Discrimination.Of([(.9, true), (.8, true), (.2, false)])!.Value.Area);
        Assert.Equal(0, Discrimination.Of([(.1, true), (.8, false)])!.Value.Area);
        Assert.Equal(.5, Discrimination.Of([(.3, true), (.3, false)])!.Value.Area);
        Assert.Null(Discrimination.Of([(.3, true)]));
        Assert.Null(Discrimination.Of([]));
    }

    /// <summary>Cox, Biometrika 1958;45:562: a model is in line with the data it was fitted to by maximum likelihood, with a slope of 1
    /// and an intercept of 0; chances half as bold on the logit ask for twice the slope. Data: low birth weight, as published (Venables and
    /// Ripley, section 7.2). No published worked example of a slope was found.</summary>
    [Fact]
    public void A_model_is_calibrated_to_the_data_it_was_fitted_to()
    {
        var table = PublishedTable.Read("low_birth_weight.csv");
        var rows = table.Select(r => new GroupedTrials(
            [1, r.Number("lwt"), r.Number("smoke"), r.Number("ht")], 1, r.Number("low"))).ToList();
        var fit = LogisticRegression.Fit(rows);
        var logits = rows.ConvertAll(r => r.X.Zip(fit.Coefficients).Sum(p => p.First * p.Second));
        var own = Calibration.Of(Told(l => l))!;
        Assert.Equal(1, own.Slope, 1e-6);
        Assert.Equal(0, own.Intercept, 1e-6);
        Assert.Equal(10, own.Groups.Count);
        Assert.Equal(189, own.Groups.Sum(g => g.Cases));
        Assert.Equal(own.Groups.Sum(g => g.Events), own.Groups.Sum(g => g.Expected), 1e-6);

        // Standard errors by hand, from the Fisher information of the model at its own fit (McCullagh and Nelder, section 4.4).
        var weights = logits.ConvertAll(l => LogisticRegression.Probability(l) * (1 - LogisticRegression.Probability(l)));
        double Sum(int power) => weights.Zip(logits, (w, l) => w * Math.Pow(l, power)).Sum();
        Assert.Equal(1 / Math.Sqrt(Sum(0)), own.InterceptError, 1e-6);
        Assert.Equal(Math.Sqrt(Sum(0) / ((Sum(0) * Sum(2)) - (Sum(1) * Sum(1)))), own.SlopeError, 1e-6);
        var timid = Calibration.Of(Told(l => l / 2))!;
        Assert.Equal(2, timid.Slope, 1e-6);
        var low = Calibration.Of(Told(l => l - .7))!;
        Assert.Equal(.7, low.Intercept, 1e-6);
        Assert.Null(Calibration.Of([(.3, true), (.3, false)]));

        List<(double, bool)> Told(Func<double, double> logit) =>
            [.. rows.Zip(logits, (r, l) => (LogisticRegression.Probability(logit(l)), r.Events > 0))];
    }
}
