using Registry.Rules.Facts;
using Registry.Rules.Measures;
using Registry.Rules.Statistics;
using Xunit;

namespace Registry.Rules.Tests.Measures;

public sealed class TimeToEventTests
{
    private static readonly DateOnly Born = new(2026, 1, 1);
    private static readonly TimeToEvent Screen = TimeToEvent.All[0];

    [Fact]
    public void Done_is_an_event_at_its_age_waiting_is_censored_on_the_as_of_date_and_leaving_competes()
    {
        var facts = new InfantFacts { Birth = new(Born, null) };
        Assert.Equal(new(40, WaitEnd.Censored), Wait(facts, Born.AddDays(40)));
        Assert.Equal(new(12, WaitEnd.Competing), Wait(facts with { DiedOn = Born.AddDays(12) }, Born.AddDays(40)));
        Assert.Equal(new(9, WaitEnd.Competing),
            Wait(facts with { DiedOn = Born.AddDays(12), Moves = [new(MoveKind.OutOfRegion, Born.AddDays(9))] }, Born.AddDays(40)));
        Assert.Equal(new(40, WaitEnd.Censored),
            Wait(facts with { Refusals = [new(PathStep.Screening, Born.AddDays(2)) { RevokedOn = Born.AddDays(3) }] }, Born.AddDays(40)));
        Assert.Equal(new(2, WaitEnd.Event), Wait(facts with { Tests = Both(2), DiedOn = Born.AddDays(12) }, Born.AddDays(40)));
        Assert.Equal(new(1, WaitEnd.Censored), Wait(facts with { Tests = Both(2) }, Born.AddDays(1)));
    }

    /// <summary>When everybody was followed to the age, the estimate is the closed cohort's proportion.</summary>
    [Fact]
    public void With_complete_follow_up_the_estimate_is_the_proportion()
    {
        var waits = Enumerable.Range(0, 100)
            .Select(k => Wait(new() { Birth = new(Born, null), Tests = k < 83 ? Both(k % 25) : [] }, Born.AddDays(400))).ToList();
        var km = KaplanMeier.At(KaplanMeier.Estimate(waits.Select(w => new Waiting(w.Time, w.End == WaitEnd.Event))), 30)!.Value;
        Assert.Equal(.83, 1 - km.Survival, 12);
        Assert.Equal(.83, AalenJohansen.Estimate(waits)[^1].Event.Share, 12);
    }

    /// <summary>Nobody can be diagnosed before the screen that was not passed, nor enrolled before a hearing loss is confirmed.</summary>
    [Fact]
    public void An_infant_is_followed_from_the_day_it_can_take_the_step()
    {
        var asOf = Born.AddDays(200);
        var facts = new InfantFacts
        {
            Birth = new(Born, null),
            Tests = Both(20, ScreeningOutcome.Refer),
            Evaluations = [new(Born.AddDays(70), EarFinding.Sensorineural, EarFinding.Normal)],
            Interventions = [new(InterventionKind.Enrolled, Born.AddDays(100))],
        };
        Assert.Equal(new(70, WaitEnd.Event, 19), Wait(facts, asOf, TimeToEvent.All[1]));
        Assert.Equal(new(100, WaitEnd.Event, 69), Wait(facts, asOf, TimeToEvent.All[2]));

        // Enrolled on a provisional finding: at risk on that day.
        Assert.Equal(new(40, WaitEnd.Event, 39),
            Wait(facts with { Interventions = [new(InterventionKind.Enrolled, Born.AddDays(40))] }, asOf, TimeToEvent.All[2]));
    }

    /// <summary>An invented cohort in progress, of whom six in ten are diagnosed at 40 to 120 days of age and reported up to 45 days
    /// later: as known at the time the old way reads too low, and the last completely reported day puts it right.</summary>
    [Fact]
    public void As_known_at_the_time_the_estimate_is_that_of_later()
    {
        var (random, asOf, policy) = (new Random(7), Born.AddDays(240), Policy.Default);
        var cohort = Enumerable.Range(0, 2_000).Select(_ => (Born: Born.AddDays(random.Next(230)),
            Age: random.NextDouble() < .6 ? 40 + random.Next(80) : (int?)null, Lag: random.Next(46))).ToList();
        double By91(Func<(DateOnly Born, int? Age, int Lag), bool> known, DateOnly through)
        {
            var waits = cohort.Select(c => TimeToEvent.All[1].WaitOf(Measured(new()
            {
                Birth = new(c.Born, null),
                Tests = [.. Both(1, ScreeningOutcome.Refer)
                    .Select(t => t with { PerformedAt = t.PerformedAt.AddDays(c.Born.DayNumber - Born.DayNumber) })],
                Evaluations = known(c) ? [new(c.Born.AddDays(c.Age!.Value), EarFinding.Normal, EarFinding.Normal)] : [],
            }, asOf), through)).OfType<CompetingWait>();
            var curve = KaplanMeier.Estimate(waits.Select(w => new Waiting(w.Time, w.End == WaitEnd.Event, w.After)));
            return 1 - KaplanMeier.At(curve, 91)!.Value.Survival;
        }

        bool ByThen((DateOnly Born, int? Age, int Lag) c) => c.Age is { } age && c.Born.AddDays(age + c.Lag) <= asOf;
        var (then, later) = (By91(ByThen, asOf), By91(c => c.Age is not null, asOf));
        var now = By91(ByThen, policy.ReportedThrough(asOf, asOf));
        TestContext.Current.TestOutputHelper?.WriteLine(
            $"followed to the as-of day {then:P1}, to the last reported day {now:P1}, known later {later:P1}");
        Assert.True(later - then > .04, $"{then:P1} {now:P1} {later:P1}");
        Assert.InRange(now - later, -.03, .03);
    }

    /// <summary>What happened after the last completely reported day is known of some only: it does not count, and nobody enters.</summary>
    [Fact]
    public void Nothing_counts_after_the_last_completely_reported_day()
    {
        var facts = new InfantFacts
        {
            Birth = new(Born, null),
            Tests = Both(20, ScreeningOutcome.Refer),
            Evaluations = [new(Born.AddDays(70), EarFinding.Normal, EarFinding.Normal)],
        };
        var infant = Measured(facts, Born.AddDays(100));
        Assert.Equal(new(60, WaitEnd.Censored, 19), TimeToEvent.All[1].WaitOf(infant, Born.AddDays(60)));
        Assert.Null(TimeToEvent.All[1].WaitOf(infant, Born.AddDays(19)));
        Assert.Null(Screen.WaitOf(infant, Born.AddDays(-1)));
        var policy = Policy.Default;
        Assert.Equal(new DateOnly(2026, 3, 2), policy.ReportedThrough(new(2026, 4, 30), new(2026, 5, 1)));
        Assert.Equal(new DateOnly(2026, 4, 30), policy.ReportedThrough(new(2026, 4, 30), new(2026, 12, 31)));
    }

    private static CompetingWait Wait(InfantFacts facts, DateOnly asOf, TimeToEvent? curve = null) =>
        (curve ?? Screen).WaitOf(Measured(facts, asOf), asOf)!.Value;

    private static MeasuredInfant Measured(InfantFacts facts, DateOnly asOf) =>
        new(Guid.Empty, facts, EvaluateInfant.Evaluate(facts, Policy.Default, asOf), new(), asOf);

    private static ScreeningTest[] Both(int day, ScreeningOutcome outcome = ScreeningOutcome.Pass) =>
        [.. Enum.GetValues<Ear>().Select(ear =>
            new ScreeningTest(ear, outcome, Born.AddDays(day).ToDateTime(new(10, 0))) { Method = ScreeningMethod.Aabr })];
}
