using CsCheck;
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
        var steps = AalenJohansen.Estimate(
            table.Select(r => new CompetingWait((int)r.Whole("time"), Enum.Parse<WaitEnd>(r["end"], ignoreCase: true))));
        var expected = table.Where(r => r["event"].Length > 0).ToList();
        Assert.Equal(expected.Select(r => (int)r.Whole("time")), steps.Select(s => s.Time));
        Assert.All(steps.Zip(expected), s =>
        {
            Assert.Equal(s.Second.Number("event"), s.First.Event.Share, 6);
            Assert.Equal(s.Second.Number("competing"), s.First.Competing.Share, 6);
        });
    }

    [Fact]
    public void Without_competing_ends_the_incidence_is_one_minus_survival()
    {
        var arm = Leukaemia("6mp");
        var incidence = AalenJohansen.Estimate(arm.Select(w => new CompetingWait(w.Time, w.Event ? WaitEnd.Event : WaitEnd.Censored)));
        Assert.All(incidence.Zip(KaplanMeier.Estimate(arm)), s => Assert.Equal(1 - s.Second.Survival, s.First.Event.Share, 12));
    }

    [Fact]
    public void Medians()
    {
        // The two medians every textbook gives with these data: 23 and 8 weeks.
        Assert.Equal(23, KaplanMeier.Median(KaplanMeier.Estimate(Leukaemia("6mp"))));
        Assert.Equal(8, KaplanMeier.Median(KaplanMeier.Estimate(Leukaemia("placebo"))));
        Assert.Null(KaplanMeier.Median(KaplanMeier.Estimate([new(1, true), new(2, false), new(2, false)])));

        // Exactly one half is reached, also when it is a product of thirds: 2/3 · 3/4 of six.
        Assert.Equal(2, KaplanMeier.Median(
            KaplanMeier.Estimate([new(1, true), new(1, true), new(2, true), new(3, false), new(3, false), new(3, false)])));
        Assert.Null(KaplanMeier.Median([]));
    }

    [Fact]
    public void Censored_at_the_time_of_an_event_was_at_risk_then()
    {
        var step = Assert.Single(KaplanMeier.Estimate([new(5, false), new(5, true), new(9, false)]));
        Assert.Equal((3, 1), (step.AtRisk, step.Events));
        Assert.Equal(2.0 / 3, step.Survival, 12);
        var incidence = Assert.Single(AalenJohansen.Estimate([new(5, WaitEnd.Censored), new(5, WaitEnd.Event), new(5, WaitEnd.Competing)]));
        Assert.Equal((3, 1.0 / 3, 1.0 / 3), (incidence.AtRisk, incidence.Event.Share, incidence.Competing.Share));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(double.NaN)]
    public void Confidence_outside_0_and_1_is_refused(double confidence) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => KaplanMeier.Estimate([new(1, true)], confidence));

    /// <summary>Without censoring the curve is the plain share still waiting, its error the binomial one.</summary>
    [Fact]
    public void Without_censoring_it_is_a_proportion() =>
        Gen.Int[0, 12].Array[1, 40].Sample(times => Assert.All(KaplanMeier.Estimate(times.Select(t => new Waiting(t, true))), step =>
        {
            var left = (double)times.Count(t => t > step.Time) / times.Length;
            Assert.Equal(left, step.Survival, 1e-10);
            Assert.Equal(Math.Sqrt(left * (1 - left) / times.Length), step.StandardError, 1e-10);
        }));

    /// <summary>Efron's construction (Proc Fifth Berkeley Symp 1967;4:831): every infant carries 1/n; one who is censored hands its
    /// share on equally to all who are seen later. What an event carries is its step of the curve. Competing ends keep
    /// theirs. Neither hazard nor product appears in it.</summary>
    [Fact]
    public void Redistribution_to_the_right_gives_the_same_curves() =>
        Gen.Select(Gen.Int[0, 15], Gen.OneOf(Gen.Const(WaitEnd.Censored), Gen.Const(WaitEnd.Event), Gen.Const(WaitEnd.Competing))).Array[1,
            40].Sample(waits =>
        {
            // At equal times the censored come last: they were at risk of what happened then.
            var sorted = waits.OrderBy(w => w.Item1).ThenBy(w => w.Item2 == WaitEnd.Censored).ToArray();
            var carries = Enumerable.Repeat(1.0 / sorted.Length, sorted.Length).ToArray();
            for (var i = 0; i < sorted.Length; i++)
            {
                if (sorted[i].Item2 != WaitEnd.Censored) continue;
                var heirs = sorted.Length - 1 - i;
                for (var k = i + 1; k < sorted.Length; k++) carries[k] += carries[i] / heirs;
                if (heirs > 0) carries[i] = 0;
            }

            double Carried(int time, params WaitEnd[] ends) => sorted.Zip(carries)
                .Where(w => w.First.Item1 <= time && ends.Contains(w.First.Item2)).Sum(w => w.Second);
            Assert.All(AalenJohansen.Estimate(waits.Select(w => new CompetingWait(w.Item1, w.Item2))), step =>
            {
                Assert.Equal(Carried(step.Time, WaitEnd.Event), step.Event.Share, 1e-10);
                Assert.Equal(Carried(step.Time, WaitEnd.Competing), step.Competing.Share, 1e-10);
            });
            Assert.All(KaplanMeier.Estimate(waits.Select(w => new Waiting(w.Item1, w.Item2 != WaitEnd.Censored))), step =>
                Assert.Equal(1 - Carried(step.Time, WaitEnd.Event, WaitEnd.Competing), step.Survival, 1e-10));
        }, iter: 2000);

    /// <summary>With one event time the log-rank statistic is Pearson's χ² of the fourfold table, with n − 1 for n.</summary>
    [Fact]
    public void Log_rank_at_a_single_time_is_the_fourfold_table() =>
        Gen.Select(Gen.Int[1, 20], Gen.Int[1, 20], Gen.Int[1, 20], Gen.Int[1, 20]).Sample((a, b, c, d) =>
        {
            Waiting[] Group(int events, int others) =>
                [.. Enumerable.Repeat(new Waiting(1, true), events), .. Enumerable.Repeat(new Waiting(2, false), others)];
            double n = a + b + c + d;
            var expected = (n - 1) * Math.Pow((double)a * d - (double)b * c, 2) / ((double)(a + b) * (c + d) * (a + c) * (b + d));
            Assert.Equal(expected, LogRank.ChiSquared(Group(a, b), Group(c, d))!.Value, 1e-8);
        });

    private static Waiting[] Leukaemia(string group) =>
        [.. PublishedTable.Read("leukaemia_6mp.csv").Where(r => r["group"] == group)
            .Select(r => new Waiting((int)r.Whole("time"), r["event"] == "1"))];
}
