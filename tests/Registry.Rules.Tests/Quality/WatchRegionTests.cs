using Registry.Rules.Facts;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Xunit;

namespace Registry.Rules.Tests.Quality;

/// <summary>
/// A small region with counts laid out evenly, a year as reference and the next watched. What happens by chance over hundreds of
/// region-years is measured by the benchmark, with a simulation of its own.
/// </summary>
public sealed class WatchRegionTests
{
    private const int Year = 365;
    private static readonly DateOnly Begin = new(2031, 1, 1);
    private static readonly DateOnly Fault = Begin.AddDays(Year + 40);
    private static readonly Policy Policy = Policy.Default;
    private static readonly string[] Sites = ["alder", "birch", "cedar", "dogwood", "elm"];

    /// <summary>Everything in turn: nothing is unusual anywhere.</summary>
    private static readonly WatchPlan Plan = PlanWatch.From(Cells(0, Year, c => c), Policy, 3);

    [Fact]
    public void Nothing_unusual_raises_nothing() => Assert.Empty(Watch(c => c));

    [Fact]
    public void A_leaking_probe_is_raised_once_and_its_shadows_are_listed()
    {
        var finding = Assert.Single(Watch(c => c.Site == "cedar" && c.Probe == "P1" && c.Day >= Fault && c.Day.DayNumber % 2 == 0
            ? c with { NoSeal = 1, Referred = 1 } : c));
        Assert.Equal(new(CauseKind.Probe, "P1"), finding.Cause.Factor);
        Assert.True(finding.Above);
        Assert.InRange(Fault, finding.OnsetFirst, finding.OnsetLast);
        Assert.InRange(finding.RaisedOn, Fault, Fault.AddDays(30));
        Assert.True(finding.Observed > 3 * finding.Expected);
        Assert.True(finding.OddsRatio.Lower > 1 && finding.OddsRatio.Lower < finding.OddsRatio.Value);
        Assert.InRange(finding.Explained!.Value.Value, .5, 1);
        Assert.True(finding.Cause.Sure > .5);
        Assert.DoesNotContain(finding.Shadows, u => u.Kind == QualityUnitKind.Probe && u.Code == "P1");
        Assert.Equal(2, new[] { finding.Measure }.Concat(finding.AlsoMeasures).Distinct().Count());
        Assert.Equal("tip_and_port", CheckFirst.For(finding.Measure, true, finding.Cause.Factor.Kind)[0].Id);
    }

    [Fact]
    public void A_probe_that_passes_everything_is_found()
    {
        var finding = Assert.Single(Watch(c => c.Site == "birch" && c.Probe == "P2" && c.Day >= Fault ? c with { Referred = 0 } : c));
        Assert.False(finding.Above);
        Assert.Equal(new(CauseKind.Probe, "P2"), finding.Cause.Factor);
        Assert.Equal(0, finding.Observed);
        Assert.Equal("known_ears", CheckFirst.For(finding.Measure, false, finding.Cause.Factor.Kind)[0].Id);
    }

    [Fact]
    public void Early_tests_are_named_as_timing()
    {
        var finding = Watch(c => c.Site == "elm" && c.Day >= Fault ? c with { Age = AgeBand.Under12 } : c)[0];
        Assert.Equal((SessionMeasure.Early, CauseKind.EarlyTests), (finding.Measure, finding.Cause.Factor.Kind));
        Assert.InRange(finding.RaisedOn, Fault, Fault.AddDays(21));
        Assert.InRange(Fault, finding.OnsetFirst, finding.OnsetLast);
        Assert.True(finding.Observed < finding.Trials || finding.Expected < finding.Trials);
        Assert.Equal("timing", CheckFirst.For(finding.Measure, true, finding.Cause.Factor.Kind)[0].Id);
    }

    [Fact]
    public void A_room_noisy_on_weekdays_is_told_from_its_screeners()
    {
        var finding = Assert.Single(Watch(c => c.Site == "alder" && c.Day >= Fault && c.Hour % 7 == 0
            && c.Day.DayOfWeek is not (DayOfWeek.Saturday or DayOfWeek.Sunday) ? c with { Noise = 1 } : c));
        Assert.Equal(CauseKind.Weekdays, finding.Cause.Factor.Kind);
        Assert.Equal("room", CheckFirst.For(finding.Measure, true, finding.Cause.Factor.Kind)[0].Id);
    }

    [Fact]
    public void A_case_that_is_closed_begins_anew_and_one_that_stands_does_not_signal_again()
    {
        QualityCell Leak(QualityCell c) => c.Site == "cedar" && c.Probe == "P1" && c.Day >= Fault && c.Day.DayNumber % 2 == 0
            ? c with { NoSeal = 1 } : c;
        var first = Assert.Single(Watch(Leak));
        var closed = new ClosedCase("cedar", first.Measure, first.Above, first.Cause.Factor, first.RaisedOn.AddDays(20));

        // Repaired when closed: nothing more.
        Assert.Equal(closed.On, Assert.Single(Watch(c => c.Day <= closed.On ? Leak(c) : c, closed)).ClosedOn);

        // A closing of something else the same day changes nothing of it.
        var other = closed with { Factor = new(CauseKind.Screener, "S1") };
        Assert.Equal(closed.On, Assert.Single(Watch(c => c.Day <= closed.On ? Leak(c) : c, other, closed)).ClosedOn);

        // Closed and not repaired: raised again, later, with an onset after the closing.
        var both = Watch(Leak, closed);
        Assert.Equal(2, both.Count);
        Assert.True(both[1].OnsetFirst > closed.On);
        Assert.Equal(first.Cause.Factor, both[1].Cause.Factor);
        Assert.Null(both[1].ClosedOn);
    }

    /// <summary>What is ordinary again is not too little, though more had been expected of it since.</summary>
    [Fact]
    public void A_repair_that_nobody_reported_is_no_new_problem()
    {
        var finding = Assert.Single(Watch(c => c.Site == "cedar" && c.Probe == "P1" && c.Day >= Fault && c.Day < Fault.AddDays(40)
            && c.Day.DayNumber % 2 == 0 ? c with { Referred = 1 } : c));
        Assert.True(finding.Above);
        Assert.Equal(new(CauseKind.Probe, "P1"), finding.Cause.Factor);
    }

    /// <summary>Of three infants three: the likeliest change of all is then infinite. Beforehand it is not.</summary>
    [Fact]
    public void A_change_is_drawn_to_what_is_likely_beforehand()
    {
        DatedTrials[] three = [.. Enumerable.Range(1, 3).Select(day => new DatedTrials(day, 1, 1, LogisticRegression.Logit(.05)))];
        var (free, drawn) = (DateChange.Of(three, above: true)!.Value, DateChange.Of(three, above: true, NameCause.Spread)!.Value);
        Assert.True(free.LogOdds > 5.9 && drawn.LogOdds is > 3 and < 4.5, $"{free.LogOdds} {drawn.LogOdds}");

        // Where the slope of the posterior, 3·(1 − p(δ)) − δ/4, is 0.
        Assert.Equal(0, 3 * (1 - LogisticRegression.Probability(LogisticRegression.Logit(.05) + drawn.LogOdds)) - drawn.LogOdds / 4, 1e-6);
        Assert.True(drawn.Gain < free.Gain && double.IsFinite(drawn.StandardError));
    }

    /// <summary>A job that looks nightly and one that looks once say the same.</summary>
    [Fact]
    public void What_a_later_night_says_of_an_earlier_one_is_what_that_one_said()
    {
        QualityCell Leak(QualityCell c) => c.Site == "cedar" && c.Probe == "P1" && c.Day >= Fault && c.Day.DayNumber % 2 == 0
            ? c with { NoSeal = 1 } : c;
        var whole = Assert.Single(Watch(Leak));
        for (var days = 40; days < 90; days += 7)
        {
            var sofar = WatchRegion.Over(Plan, Cells(Year, days, Leak), [], Policy);
            if (whole.RaisedOn >= Begin.AddDays(Year + days)) Assert.Empty(sofar);
            else Assert.Equal(Of(whole), Of(sofar[0]));
        }
    }

    private static (DateOnly, CauseFactor) Of(UnitFinding finding) => (finding.RaisedOn, finding.Named[0].Cause.Factor);

    [Fact]
    public void More_allowed_false_flags_lower_every_threshold_and_one_of_the_same_sessions_is_charted_once()
    {
        var fewer = PlanWatch.From(Cells(0, Year, c => c), Policy with { FalseFlagsPerYear = 1 }, 3);
        foreach (var (unit, thresholds) in Plan.Thresholds)
            foreach (var (i, threshold) in thresholds.Index())
                if (!double.IsNaN(threshold)) Assert.True(fewer.Thresholds[unit][i] > threshold, $"{unit} {i}");
        var only = PlanWatch.From(Cells(0, Year, c => c with { Probe = c.Instrument }), Policy, 3);
        Assert.DoesNotContain(only.Thresholds.Keys, u => u.Kind == QualityUnitKind.Probe);
        Assert.Contains(only.Thresholds.Keys, u => u.Kind == QualityUnitKind.Instrument);
    }

    [Fact]
    public void The_expected_count_of_the_reference_is_the_observed_one_and_the_model_says_what_it_was_made_of()
    {
        var cells = Cells(0, Year, c => c);
        foreach (var model in Plan.Models.Values)
        {
            var counts = CountUnits.Of(cells, model, QualityUnitKind.Site, Policy).Values;
            Assert.Equal(counts.Sum(c => c.Observed), counts.Sum(c => c.Expected), 1e-4 * counts.Sum(c => c.Observed));
            Assert.Equal((3, Begin, Begin.AddDays(Year - 1)), (model.Version, model.From, model.Through));
            Assert.Equal(counts.Sum(c => c.Observed), model.Events);
        }
    }

    [Fact]
    public void A_site_is_compared_with_the_others_and_not_with_itself()
    {
        var cells = Cells(0, Year, c => c.Site == "elm" && c.Day.DayNumber % 4 == 0 ? c with { Referred = 1 } : c);
        var refers = CompareUnits.Of(cells, Plan.Models.Values, Policy)
            .Single(k => k.Model.Measure == SessionMeasure.Referred && k.Kind == QualityUnitKind.Site).Units;
        var (elm, others) = (refers.Single(c => c.Unit.Site == "elm"), refers.Where(c => c.Unit.Site != "elm").ToList());
        // All sites have the same case mix: expected of it is the others' mean, but for the ages that differ a little by chance.
        Assert.Equal(others.Average(c => c.Observed), elm.Expected, 1.0);
        Assert.True(elm.AdjustedP < .001 && elm.TooMany < elm.TooFew && elm.Ratio > 2);
        Assert.True(elm.Shrunken.FarAbove > .95 && elm.Multiplicative < (elm.Observed - elm.Expected) / Math.Sqrt(elm.Expected * .9));
        Assert.Equal((1, 1), (elm.Rank!.Value.Lowest, elm.Rank.Value.Highest));
        Assert.All(others, o => Assert.True(o.Rank!.Value.Highest - o.Rank.Value.Lowest >= 2));
    }

    [Fact]
    public void Every_measure_and_cause_has_something_to_check_with_its_source()
    {
        foreach (var measure in CountMeasure.All)
            foreach (var above in new[] { true, false })
                foreach (var cause in Enum.GetValues<CauseKind>()) Assert.NotEmpty(CheckFirst.For(measure, above, cause));
        Assert.All(CheckFirst.All, c => Assert.True(c.Source == "Common practice, no source" ? c.Mark == SourceMark.CommonPractice
            : c.Mark == SourceMark.Found));
        Assert.Contains("manufacturer's instructions and the local protocol", CheckFirst.Caution, StringComparison.Ordinal);
    }

    /// <summary>Coal-mining disasters 1851–1962, yearly (Jarrett, Biometrika 1979;66:191): the rate fell after 1891 from 3.10 to 0.90 a
    /// year (Poisson maximum likelihood). Here as rare events of a million trials at the first rate.</summary>
    [Fact]
    public void The_change_of_the_coal_mines_is_dated_as_published()
    {
        const string years = "4540143406334026335453144155342522342132211110301011003103220111010100021000110"
            + "233112111123300014000100000100101";
        var rows = years.Select((c, i) => new DatedTrials(1851 + i, 1_000_000, c - '0', LogisticRegression.Logit(3.097560976e-6))).ToList();
        Assert.Equal(112, rows.Count);
        Assert.Equal(191, rows.Sum(r => r.Events));
        var change = DateChange.Of(rows, above: false)!.Value;
        Assert.Equal(1892, change.Best);
        Assert.Equal(Math.Log(.9014084507 / 3.097560976), change.LogOdds, 1e-5);
        Assert.InRange(1892, change.First, change.Last);
        Assert.Null(DateChange.Of([], above: true));
    }

    private static IReadOnlyList<UnitFinding> Watch(Func<QualityCell, QualityCell> with, params ClosedCase[] closed) =>
        WatchRegion.Over(Plan, Cells(Year, 200, with), closed, Policy);

    /// <summary>Six infants a day and site, the same at each; about every twelfth refers, fewer have an attempt without a result.</summary>
    private static List<QualityCell> Cells(int from, int days, Func<QualityCell, QualityCell> with)
    {
        var cells = new List<QualityCell>();
        for (var day = from; day < from + days; day++)
            foreach (var site in Sites)
                for (var i = 0; i < 6; i++)
                {
                    var number = day * 6 + i;
                    cells.Add(with(new(site, $"I{Turn(number, 2, 1)}", $"P{Turn(number, 3, 2)}", $"S{Turn(number, 4, 3)}",
                        Begin.AddDays(day), Turn(number, 24, 4), ScreeningMethod.Teoae, (AgeBand)(3 + Turn(number, 5, 5)), false,
                        GestationBand.Term, 1, 1,
                        Turn(number, 12, 6) == 1 ? 1 : 0, Turn(number, 43, 7) == 1 ? 1 : 0, Turn(number, 47, 8) == 1 ? 1 : 0,
                        Turn(number, 83, 9) == 1 ? 1 : 0)));
                }

        return cells;
    }

    /// <summary>A number from 1 to <paramref name="among"/>: multiples of an irrational number, which fill a circle evenly (Weyl, Math
    /// Ann 1916;77:313; from memory), another one for each salt, so that what they decide is unrelated. Drawn numbers raise as many false
    /// flags as the policy allows.</summary>
    private static int Turn(int number, int among, int salt)
    {
        int[] primes = [2, 3, 5, 7, 11, 13, 17, 19, 23];
        var turns = number * Math.Sqrt(primes[salt - 1]);
        return (int)((turns - Math.Floor(turns)) * among) + 1;
    }
}
