using Registry.Rules.Facts;
using Xunit;

namespace Registry.Rules.Tests;

public class EvaluateInfantTests
{
    private static readonly DateOnly Born = new(2026, 1, 31);

    [Fact]
    public void A_pass_of_both_ears_before_discharge_meets_the_first_milestone_and_the_calendar_changes_nothing()
    {
        var facts = new InfantFacts
        {
            Birth = new(Born, new TimeOnly(3, 0)) { DischargedOn = Born.AddDays(2) },
            Tests =
            [
                new(Ear.Right, ScreeningOutcome.Pass, new DateTime(2026, 2, 1, 9, 0, 0)) { Method = ScreeningMethod.Oae },
                new(Ear.Left, ScreeningOutcome.Pass, new DateTime(2026, 2, 1, 9, 5, 0)) { Method = ScreeningMethod.Oae },
            ],
        };

        var status = EvaluateInfant.Evaluate(facts, Policy.Default, Born.AddDays(40));

        Assert.Equal(ScreeningConclusion.Passed, status.Screening);
        Assert.Equal("met: first complete screen on day 1, deadline was day 28; result by now: pass, both ears", status.Screened.Reason);
        Assert.Equal(MilestoneState.NotRequired, status.Diagnosed.State);
        Assert.Empty(status.Dues);
        Assert.Null(status.NextChangeOn);
    }

    [Fact]
    public void Nothing_reported_is_due_then_missed_then_lost_to_documentation()
    {
        var facts = new InfantFacts { Birth = new(Born, null) };

        var young = EvaluateInfant.Evaluate(facts, Policy.Default, Born);
        Assert.Equal(MilestoneState.Pending, young.Screened.State);
        Assert.Equal(new DateOnly(2026, 2, 28), young.Dues[0].DueOn);
        Assert.Equal(new DateOnly(2026, 3, 1), young.NextChangeOn);

        var missed = EvaluateInfant.Evaluate(facts, Policy.Default, young.NextChangeOn!.Value);
        Assert.Equal(MilestoneState.Missed, missed.Screened.State);
        Assert.Equal(LossState.None, missed.Loss);
        Assert.Equal(new DateOnly(2026, 3, 31), missed.NextChangeOn);

        var lost = EvaluateInfant.Evaluate(facts, Policy.Default, missed.NextChangeOn!.Value);
        Assert.Equal(LossState.LostToDocumentation, lost.Loss);
        Assert.Equal(PathStep.Screening, lost.LostAt);
        Assert.Null(lost.NextChangeOn);
    }

    [Fact]
    public void A_day_before_birth_is_refused() =>
        Assert.Throws<ArgumentOutOfRangeException>(
            () => EvaluateInfant.Evaluate(new InfantFacts { Birth = new(Born, null) }, Policy.Default, Born.AddDays(-1)));
}
