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
        Assert.Equal(.83, AalenJohansen.Estimate(waits)[^1].Event, 12);
    }

    private static CompetingWait Wait(InfantFacts facts, DateOnly asOf) =>
        Screen.WaitOf(new(Guid.Empty, facts, EvaluateInfant.Evaluate(facts, Policy.Default, asOf), new(), asOf));

    private static ScreeningTest[] Both(int day) =>
        [.. Enum.GetValues<Ear>().Select(ear =>
            new ScreeningTest(ear, ScreeningOutcome.Pass, Born.AddDays(day).ToDateTime(new(10, 0))) { Method = ScreeningMethod.Aabr })];
}
