using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

public sealed class SurvivalTests
{
    [Fact]
    public void The_6_MP_arm()
    {
        var steps = KaplanMeier.Estimate(Leukaemia("6mp"));
        Assert.Equal([6, 7, 10, 13, 16, 22, 23], steps.Select(s => s.Time));
        Assert.Equal([21, 17, 15, 12, 11, 7, 6], steps.Select(s => s.AtRisk));
        double[] survival = [.8571, .8067, .7529, .6902, .6275, .5378, .4482];
        double[] error = [.0764, .0869, .0963, .1068, .1141, .1282, .1346];
        Assert.All(steps.Index(), s =>
        {
            Assert.Equal(survival[s.Index], s.Item.Survival, 4);
            Assert.Equal(error[s.Index], s.Item.StandardError, 4);
            Assert.InRange(s.Item.Survival, s.Item.Limits!.Value.Lower, s.Item.Limits.Value.Upper);
        });
        Assert.Equal(.8571, KaplanMeier.At(steps, 6)!.Value.Survival, 4);
        Assert.Null(KaplanMeier.At(steps, 5));
    }

    [Fact]
    public void Log_log_limits_by_the_formula()
    {
        // ln(−ln S) ± 1.96·SE/(S·|ln S|), worked by hand for S = .8571, SE = .0764.
        var step = KaplanMeier.Estimate(Leukaemia("6mp"))[0];
        var width = 1.959964 * step.StandardError / (step.Survival * Math.Abs(Math.Log(step.Survival)));
        var centre = Math.Log(-Math.Log(step.Survival));
        Assert.Equal(Math.Exp(-Math.Exp(centre + width)), step.Limits!.Value.Lower, 6);
        Assert.Equal(Math.Exp(-Math.Exp(centre - width)), step.Limits.Value.Upper, 6);
    }

    [Fact]
    public void The_two_arms_differ() => Assert.Equal(16.7929, LogRank.ChiSquared(Leukaemia("6mp"), Leukaemia("placebo"))!.Value, 4);

    [Fact]
    public void Edges()
    {
        Assert.Empty(KaplanMeier.Estimate([]));
        Assert.Empty(KaplanMeier.Estimate([new(3, false), new(9, false)]));
        var all = KaplanMeier.Estimate([new(3, true), new(3, true)]);
        Assert.Equal(0, Assert.Single(all).Survival);
        Assert.Null(all[0].Limits);
        Assert.Null(LogRank.ChiSquared([new(1, false)], [new(2, false)]));
        Assert.Throws<ArgumentOutOfRangeException>(() => KaplanMeier.Estimate([new(-1, true)]));
    }

    [Fact]
    public void Competing_risks_example()
    {
        var table = PublishedTable.Read("competing_risks.csv");
        var steps = AalenJohansen.Estimate(table.Select(r => new CompetingWait((int)r.Whole("time"), Enum.Parse<WaitEnd>(r["end"], ignoreCase: true))));
        var expected = table.Where(r => r["event"].Length > 0).ToList();
        Assert.Equal(expected.Select(r => (int)r.Whole("time")), steps.Select(s => s.Time));
        Assert.All(steps.Zip(expected), s =>
        {
            Assert.Equal(s.Second.Number("event"), s.First.Event, 6);
            Assert.Equal(s.Second.Number("competing"), s.First.Competing, 6);
        });
    }

    [Fact]
    public void Without_competing_ends_the_incidence_is_one_minus_survival()
    {
        var arm = Leukaemia("6mp");
        var incidence = AalenJohansen.Estimate(arm.Select(w => new CompetingWait(w.Time, w.Event ? WaitEnd.Event : WaitEnd.Censored)));
        Assert.All(incidence.Zip(KaplanMeier.Estimate(arm)), s => Assert.Equal(1 - s.Second.Survival, s.First.Event, 12));
    }

    private static Waiting[] Leukaemia(string group) =>
        [.. PublishedTable.Read("leukaemia_6mp.csv").Where(r => r["group"] == group).Select(r => new Waiting((int)r.Whole("time"), r["event"] == "1"))];
}
