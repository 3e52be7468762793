using CsCheck;
using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

/// <summary>Variances, and late entry, against values computed with R's <c>survival::survfit</c> and <c>etm</c> from published
/// data.</summary>
public sealed class DelayedEntryTests
{
    /// <summary>Br J Cancer 2004;91:1229, table 2. The square of the standard errors is etm's Greenwood-type variance.</summary>
    [Fact]
    public void Standard_errors_of_nine_patients()
    {
        var steps = AalenJohansen.Estimate(PublishedTable.Read("competing_risks.csv")
            .Select(r => new CompetingWait((int)r.Whole("time"), Enum.Parse<WaitEnd>(r["end"], ignoreCase: true))));
        (int Time, double Event, double Competing)[] expected =
        [
            (10, .1169267933, 0), (16, .1649762364, 0), (18, .1649762364, .1345458109), (23, .1855609613, .1345458109),
            (26, .1855609613, .2033808040), (27, .2033808040, .2033808040),
        ];
        Assert.All(expected, e =>
        {
            var at = AalenJohansen.At(steps, e.Time)!.Value;
            Assert.Equal(e.Event, at.Event.StandardError, 1e-9);
            Assert.Equal(e.Competing, at.Competing.StandardError, 1e-9);
        });
    }

    /// <summary>Monoclonal gammopathy, N Engl J Med 2002;346:564.</summary>
    [Theory]
    [InlineData(12, .009401259345, .002595155763, .1221854028, .008806084371)]
    [InlineData(60, .034103712974, .004889257908, .3203670103, .012567371548)]
    [InlineData(120, .063722168013, .006796848424, .5318177041, .014059645162)]
    [InlineData(240, .099813715935, .009784846793, .7240279761, .015606345068)]
    public void Incidence_of_progression_and_death(int month, double progression, double error, double death, double deathError)
    {
        var at = AalenJohansen.At(AalenJohansen.Estimate(PublishedTable.Read("mgus2.csv")
            .Select(r => new CompetingWait((int)r.Whole("time"), (WaitEnd)r.Whole("state")))), month)!.Value;
        Assert.Equal(progression, at.Event.Share, 1e-10);
        Assert.Equal(error, at.Event.StandardError, 1e-6);
        Assert.Equal(death, at.Competing.Share, 1e-9);
        Assert.Equal(deathError, at.Competing.StandardError, 1e-6);
        Assert.InRange(at.Event.Share, at.Event.Limits!.Value.Lower, at.Event.Limits.Value.Upper);
    }

    /// <summary>Women enter a study of pregnancies weeks after conception: Meister and Schaefer, Reprod Toxicol 2008;26:31. The printed
    /// standard errors are survfit's, the infinitesimal jackknife's: computed so here (<see cref="Jackknife"/>) they agree to the digits
    /// printed. Ours is the Greenwood-type variance, which on these data is up to 5 % away; without late entry the two are the
    /// same.</summary>
    [Theory]
    [InlineData(0, 10, 3, .1278037409, .021268186)]
    [InlineData(0, 20, 3, .1560305425, .021496889)]
    [InlineData(0, 40, 3, .1607813850, .021499201)]
    [InlineData(0, 20, 1, .04015930849, .009255352)]
    [InlineData(0, 40, 2, .563120871807, .019883624)]
    [InlineData(1, 10, 3, .2781962193, .051707190)]
    [InlineData(1, 20, 3, .3507019369, .050343014)]
    [InlineData(1, 40, 3, .3623230960, .049922572)]
    [InlineData(1, 20, 1, .27715168366, .042658855)]
    [InlineData(1, 40, 2, .283601629622, .038475122)]
    public void Incidence_with_delayed_entry(int group, int week, int cause, double share, double error)
    {
        var at = AalenJohansen.At(AalenJohansen.Estimate(Pregnancies(group, cause)), week)!.Value;
        Assert.Equal(share, at.Event.Share, 1e-9);
        Assert.Equal(error, Jackknife(Pregnancies(group, cause), week), 1e-8);
        Assert.InRange(at.Event.StandardError / error, .95, 1.05);
    }

    /// <summary>Without late entry the infinitesimal jackknife is the Greenwood-type variance: the nine patients, and many invented
    /// ones.</summary>
    [Fact]
    public void Without_delayed_entry_both_variances_are_one()
    {
        var patients = PublishedTable.Read("competing_risks.csv")
            .Select(r => new CompetingWait((int)r.Whole("time"), Enum.Parse<WaitEnd>(r["end"], ignoreCase: true))).ToList();
        Assert.Equal(.1855609613, Jackknife(patients, 23), 1e-9);
        Gen.Select(Gen.Int[1, 12], Gen.Int[0, 2]).Array[2, 40].Sample(some =>
        {
            var waits = some.Select(s => new CompetingWait(s.Item1, (WaitEnd)s.Item2)).ToList();
            if (AalenJohansen.At(AalenJohansen.Estimate(waits), 6) is { } at)
                Assert.Equal(Jackknife(waits, 6), at.Event.StandardError, 1e-9);
        });
    }

    [Fact]
    public void Ignoring_the_entry_halves_the_incidence()
    {
        var ignored = Pregnancies(0, 3).Select(w => w with { After = -1 });
        Assert.Equal(.06811451135, AalenJohansen.At(AalenJohansen.Estimate(ignored), 40)!.Value.Event.Share, 1e-9);
    }

    [Theory]
    [InlineData(0, 10, .9639359821, null, null)]
    [InlineData(0, 20, .9558723326, null, null)]
    [InlineData(1, 10, .7294138657, .6260105480, .8085316330)]
    [InlineData(1, 20, .6474581424, .5464651312, .7314629961)]
    public void Survival_with_delayed_entry(int group, int week, double survival, double? lower, double? upper)
    {
        var waits = Pregnancies(group, 1).Select(w => new Waiting(w.Time, w.End == WaitEnd.Event, w.After));
        var at = KaplanMeier.At(KaplanMeier.Estimate(waits), week)!.Value;
        Assert.Equal(survival, at.Survival, 1e-9);
        if (lower is null) return;
        Assert.Equal(lower.Value, at.Limits!.Value.Lower, 1e-9);
        Assert.Equal(upper!.Value, at.Limits.Value.Upper, 1e-9);
    }

    [Fact]
    public void Nobody_is_at_risk_before_entering()
    {
        var step = AalenJohansen.Estimate([new(5, WaitEnd.Event), new(9, WaitEnd.Event, 4), new(9, WaitEnd.Censored, 5)])[0];
        Assert.Equal(2, step.AtRisk);
        Assert.Throws<ArgumentOutOfRangeException>(() => AalenJohansen.Estimate([new(5, WaitEnd.Event, 5)]));
    }

    [Fact]
    public void An_estimate_rests_on_enough_infants_or_is_not_made()
    {
        CompetingWait[] waits = [new(1, WaitEnd.Event), new(8, WaitEnd.Event, 2), new(9, WaitEnd.Censored, 3), new(12, WaitEnd.Event, 3)];
        var stretch = FollowedStretch.Of(waits, 2)!;
        Assert.Equal((4, 9), (stretch.From, stretch.Through));
        Assert.Equal([new(8, WaitEnd.Event, 3), new(9, WaitEnd.Censored, 3), new(9, WaitEnd.Censored, 3)], stretch.Waits);
        Assert.Equal([0, 3, 2, 1], new[] { 2, 8, 9, 12 }.Select(t => FollowedStretch.AtRisk(waits, t)));
        Assert.Null(FollowedStretch.Of(waits, 4));
        Gen.Select(Gen.Int[0, 20], Gen.Int[1, 20]).Array[1, 40].Sample(some =>
        {
            var any = some.Select(s => new CompetingWait(s.Item1 + s.Item2, WaitEnd.Event, s.Item1)).ToArray();
            if (FollowedStretch.Of(any, 3) is not { } found) return;
            Assert.All(AalenJohansen.Estimate(found.Waits), s => Assert.True(s.AtRisk >= 3));
        });
    }

    /// <summary>
    /// The infinitesimal jackknife of an event's cumulative incidence: the root of the sum over persons of the squared derivative of the
    /// estimate by that person's weight. Derived by hand from the estimator, F(t) = Σ S(s−)·h(s) with S(s) = S(s−)(1−H(s)): a weight
    /// changes a hazard of Y at risk by (1 if the person has the event, less the hazard) / Y while the person is at risk.
    /// </summary>
    private static double Jackknife(IEnumerable<CompetingWait> waits, int until)
    {
        var all = waits.ToArray();
        var (dF, dS, free) = (new double[all.Length], new double[all.Length], 1.0);
        foreach (var time in all.Where(w => w.End != WaitEnd.Censored && w.Time <= until).Select(w => w.Time).Distinct().Order())
        {
            double atRisk = all.Count(w => w.After < time && w.Time >= time);
            var event_ = all.Count(w => w.Time == time && w.End == WaitEnd.Event) / atRisk;
            var any = all.Count(w => w.Time == time && w.End != WaitEnd.Censored) / atRisk;
            for (var i = 0; i < all.Length; i++)
            {
                var (here, ends) = (all[i].After < time && all[i].Time >= time, all[i].Time == time);
                var byEvent = here ? ((ends && all[i].End == WaitEnd.Event ? 1 : 0) - event_) / atRisk : 0;
                var byAny = here ? ((ends && all[i].End != WaitEnd.Censored ? 1 : 0) - any) / atRisk : 0;
                dF[i] += dS[i] * event_ + free * byEvent;
                dS[i] = dS[i] * (1 - any) - free * byAny;
            }

            free *= 1 - any;
        }

        return Math.Sqrt(dF.Sum(d => d * d));
    }

    private static IEnumerable<CompetingWait> Pregnancies(int group, int cause) => PublishedTable.Read("abortion.csv")
        .Where(r => r.Whole("group") == group)
        .Select(r => new CompetingWait((int)r.Whole("exit"),
            r.Whole("cause") == cause ? WaitEnd.Event : r.Whole("cause") == 0 ? WaitEnd.Censored : WaitEnd.Competing,
            (int)r.Whole("entry")));
}
