using Registry.Rules.Facts;
using Registry.Rules.Quality;
using Xunit;

namespace Registry.Rules.Tests.Quality;

/// <summary>What happens to a problem after it was raised, and what comes after the plan was made. One site watched beside four that are
/// ordinary; drawn with fixed seeds.</summary>
public sealed class NameAgainTests
{
    private const int Year = 365;
    private static readonly DateOnly Begin = new(2031, 1, 1), Fault = Begin.AddDays(Year + 40);
    private static readonly WatchPlan Plan = PlanWatch.From(Cells(0, Year, (c, _) => c, 4), Policy.Default, 1);

    private static readonly Dictionary<int, UnitFinding> BySeed = Enumerable.Range(1, 12).Select(seed => (seed,
        Found: Watch(FirstOneThenAll, seed).FirstOrDefault(f => f.RaisedOn >= Fault && f.Measure == SessionMeasure.Referred)))
        .Where(f => f.Found is not null).ToDictionary(f => f.seed, f => f.Found!);

    /// <summary>For four days one screener's infants, and a little more of everybody's from then on: what was named early is named again,
    /// the flag stays one.</summary>
    [Fact]
    public void A_cause_named_from_little_is_named_again_when_there_is_more()
    {
        var found = Renamed();
        Assert.NotEmpty(found);
        foreach (var finding in found)
        {
            Assert.Equal(new(CauseKind.Site, "cedar"), finding.Named[1].Cause.Factor);
            Assert.Equal(finding.RaisedOn, finding.Named[0].On);
            Assert.All(finding.Named.Skip(1), n => Assert.InRange(n.On, finding.RaisedOn.AddDays(7), finding.RaisedOn.AddDays(56)));
            Assert.Equal(finding.Named[0].Cause, finding.NamedOn(finding.RaisedOn));
            Assert.Equal(finding.Cause, finding.NamedOn(Begin.AddYears(9)));

            // The evidence is that of the night it was raised, as that night alone says.
            var until = Cells(Year, 140, FirstOneThenAll, SeedOf(finding))
                .Where(c => c.Site == "cedar" && c.Day <= finding.RaisedOn);
            var first = WatchRegion.Over(Plan, until, [], Policy.Default)
                .Single(f => (f.RaisedOn, f.Measure) == (finding.RaisedOn, finding.Measure));
            Assert.Equal((first.Trials, first.Observed, first.Expected, first.Explained, first.Cause.Factor),
                (finding.Trials, finding.Observed, finding.Expected, finding.Explained, finding.Named[0].Cause.Factor));
        }
    }

    /// <summary>A flag that was closed under its earlier name is closed under the later one as well.</summary>
    [Fact]
    public void A_closing_closes_what_it_was_named_by_before()
    {
        var first = Renamed()[0];
        var on = first.Named[^1].On.AddDays(3);
        var closed = Watch(FirstOneThenAll, SeedOf(first),
            new ClosedCase("cedar", first.Measure, first.Above, first.Named[0].Cause.Factor, on));
        Assert.Equal(on, closed.Single(f => f.RaisedOn == first.RaisedOn).ClosedOn);
    }

    /// <summary>Those first named by the one screener, and then by something else.</summary>
    private static List<UnitFinding> Renamed() =>
        [.. BySeed.Values.Where(f => f.Named.Count > 1 && f.Named[0].Cause.Factor == new CauseFactor(CauseKind.Screener, "S1"))];

    private static int SeedOf(UnitFinding finding) => BySeed.First(s => s.Value == finding).Key;

    private static QualityCell FirstOneThenAll(QualityCell c, double dice) => !c.Rescreens && c.Day >= Fault
        && (dice < .11 || (c.Day < Fault.AddDays(4) && c.Screener == "S1")) ? c with { Referred = 1 } : c;

    [Fact]
    public void A_probe_that_came_after_the_plan_was_made_is_watched()
    {
        var finding = Assert.Single(Watch((c, dice) => c.Day >= Fault && c.Probe == "P1"
            ? c with { Probe = "P9", NoSeal = dice < .5 ? 1 : 0 } : c, 4));
        Assert.Equal(new(CauseKind.Probe, "P9"), finding.Cause.Factor);
        Assert.False(Plan.Thresholds.ContainsKey(new(QualityUnitKind.Probe, "cedar", "P9")));
        var largest = Plan.Of(new(QualityUnitKind.Probe, "cedar", "P9"))!;
        foreach (var (_, own) in Plan.Thresholds.Where(t => t.Key.Kind == QualityUnitKind.Probe))
            Assert.All(own.Zip(largest), t => Assert.False(t.First > t.Second));
    }

    /// <summary>A probe bought in the last two months of the year is as busy as one that was there all year, and has its threshold: not
    /// one for so few days of a year.</summary>
    [Fact]
    public void A_unit_that_came_late_in_the_year_has_the_threshold_of_one_as_busy_all_year()
    {
        static QualityCell Bought(QualityCell c, DateOnly from) =>
            c.Site == "cedar" && c.Probe == "P1" && c.Day >= from ? c with { Probe = "P9" } : c;
        var unit = new QualityUnit(QualityUnitKind.Probe, "cedar", "P9");
        var late = PlanWatch.From(Cells(0, Year, (c, _) => Bought(c, Begin.AddDays(Year - 60)), 4), Policy.Default, 1).Thresholds[unit];
        var allYear = PlanWatch.From(Cells(0, Year, (c, _) => Bought(c, Begin), 4), Policy.Default, 1).Thresholds[unit];
        foreach (var (l, a) in late.Zip(allYear).Where(t => !double.IsNaN(t.First))) Assert.InRange(l - a, -.3, .6);
    }

    /// <summary>Too many stands open while it begins to pass everything: that is another problem, and the more dangerous one.</summary>
    [Fact]
    public void A_probe_that_refers_too_many_and_then_none_is_raised_twice_and_one_closing_closes_one()
    {
        static QualityCell Turned(QualityCell c, double dice) => c.Site != "cedar" || c.Probe != "P1" || c.Day < Fault || c.Rescreens ? c
            : c with { Referred = c.Day < Fault.AddDays(30) && dice < .5 ? 1 : 0 };
        var both = Refers();
        Assert.Equal([true, false], both.Select(f => f.Above));
        Assert.All(both, f => Assert.Null(f.ClosedOn));
        var on = both[1].RaisedOn.AddDays(5);
        Assert.Equal([on, null], Refers(new ClosedCase("cedar", SessionMeasure.Referred, true, both[0].Cause.Factor, on)).Take(2)
            .Select(f => f.ClosedOn));

        static List<UnitFinding> Refers(params ClosedCase[] closed) => [.. WatchRegion.Over(Plan,
            Cells(Year, 240, Turned, 4).Where(c => c.Site == "cedar"), closed, Policy.Default)
            .Where(f => f.Measure == SessionMeasure.Referred && f.Cause.Factor == new CauseFactor(CauseKind.Probe, "P1")
                && f.RaisedOn >= Fault)];
    }

    /// <summary>Rescreens refer more often than first sessions everywhere; a site where they double is found, and its first sessions are
    /// not blamed.</summary>
    [Fact]
    public void Rescreens_are_compared_with_rescreens()
    {
        var finding = Assert.Single(Watch((c, dice) => c.Rescreens && c.Day >= Fault && dice < .6 ? c with { Referred = 1 } : c, 4));
        Assert.Equal((SessionMeasure.RescreenReferred, true), (finding.Measure, finding.Above));
        Assert.Equal(CauseKind.Site, finding.Cause.Factor.Kind);
        Assert.True(finding.Expected > .1 * finding.Trials && finding.Observed > 1.5 * finding.Expected);
        var model = Plan.Models[SessionMeasure.RescreenReferred];
        Assert.InRange((double)model.Events / model.Trials, .15, .25);
        Assert.InRange((double)Plan.Models[SessionMeasure.Referred].Events / Plan.Models[SessionMeasure.Referred].Trials, .06, .1);
    }

    [Fact]
    public void A_rescreen_is_no_first_session_and_the_other_way_round()
    {
        var first = Cells(0, 1, (c, _) => c, 4)[0] with { Referred = 1, NoSeal = 1 };
        Assert.Equal((1, 1), CountMeasure.In(first, SessionMeasure.Referred, Policy.Default));
        Assert.Equal((0, 0), CountMeasure.In(first, SessionMeasure.RescreenReferred, Policy.Default));
        foreach (var measure in CountMeasure.All)
            Assert.Equal(measure == SessionMeasure.RescreenReferred ? (1, 1) : (0, 0),
                CountMeasure.In(first with { Rescreens = true }, measure, Policy.Default));
    }

    private static IReadOnlyList<UnitFinding> Watch(Func<QualityCell, double, QualityCell> with, int seed, params ClosedCase[] closed) =>
        WatchRegion.Over(Plan, Cells(Year, 140, with, seed).Where(c => c.Site == "cedar"), closed, Policy.Default);

    /// <summary>Six infants a day and site, one in twelve refers; two rescreens, one in five refers.</summary>
    private static List<QualityCell> Cells(int from, int days, Func<QualityCell, double, QualityCell> with, int seed)
    {
        var dice = new Random(seed);
        var cells = new List<QualityCell>();
        for (var day = from; day < from + days; day++)
            foreach (var site in new[] { "alder", "birch", "cedar", "dogwood", "elm" })
                for (var i = 0; i < 8; i++)
                {
                    var again = i > 5;
                    cells.Add(with(new(site, $"I{dice.Next(2)}", $"P{dice.Next(3)}", $"S{dice.Next(4)}", Begin.AddDays(day), dice.Next(24),
                        ScreeningMethod.Teoae, AgeBand.Under30, false, GestationBand.Term, 1, 1, Drawn(again ? .2 : .08),
                        Drawn(again ? 0 : .03), Drawn(again ? 0 : .03), Drawn(again ? 0 : .02), again), dice.NextDouble()));
                }

        return cells;

        int Drawn(double risk) => dice.NextDouble() < risk ? 1 : 0;
    }
}
