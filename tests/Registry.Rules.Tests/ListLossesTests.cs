using Registry.Rules.Facts;
using Registry.Rules.Tests.Oracle;
using Xunit;

namespace Registry.Rules.Tests;

/// <summary>The days on which an infant became lost, and was lost no more.</summary>
public sealed class ListLossesTests
{
    private static readonly DateOnly Born = new(2026, 1, 10);

    private static InfantFacts Referred() => new()
    {
        Birth = new(Born, new(8, 0)) { DischargedOn = Born.AddDays(1) },
        Tests = [new(Ear.Right, ScreeningOutcome.Refer, Born.AddDays(20).ToDateTime(new(10, 0))) { Method = ScreeningMethod.Aabr },
            new(Ear.Left, ScreeningOutcome.Pass, Born.AddDays(20).ToDateTime(new(10, 5))) { Method = ScreeningMethod.Aabr }],
    };

    /// <summary>The deadline of a diagnosis and the policy's days of grace, and the day after: by hand from docs/rules/infant-status.md,
    /// section 5.</summary>
    [Fact]
    public void Lost_is_who_did_not_come_by_the_deadline_and_the_days_of_grace()
    {
        var facts = Referred();
        var status = EvaluateInfant.Evaluate(facts, Policy.Default, Born.AddDays(30));
        var expected = status.Diagnosed.DeadlineOn.AddDays(Policy.Default.LossGraceDays + 1);
        Assert.Equal([new(PathStep.Diagnosis, LossState.LostToDocumentation, expected, null, null)],
            ListLosses.Of(facts, Policy.Default, Born.AddDays(400)));
        Assert.Empty(ListLosses.Of(facts, Policy.Default, expected.AddDays(-1)));
    }

    [Fact]
    public void Who_came_is_lost_no_more_from_that_day_and_lost_again_counts_anew()
    {
        var facts = Referred() with
        {
            ContactAttempts = [new(PathStep.Diagnosis, Born.AddDays(300), ContactOutcome.AppointmentMade)],
        };
        var stretches = ListLosses.Of(facts, Policy.Default, Born.AddDays(600));
        Assert.Equal(2, stretches.Count);
        Assert.Equal((Born.AddDays(300), SurveyCategory.InProcess), (stretches[0].Until!.Value, stretches[0].Then!.Value));
        Assert.Equal(Born.AddDays(300 + Policy.Default.AppointmentHoldDays + 1), stretches[1].From);
        var came = facts with { Evaluations = [new(Born.AddDays(305), EarFinding.Normal, EarFinding.Normal)] };
        Assert.Equal(Born.AddDays(300), Assert.Single(ListLosses.Of(came, Policy.Default, Born.AddDays(600))).Until);
    }

    /// <summary>The same as asking every single day.</summary>
    [Fact]
    public void Between_two_changes_no_day_is_missed()
    {
        var generated = new GeneratedInfants(41);
        var lost = 0;
        for (var i = 0; i < 1_500; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            var slow = new List<(PathStep Step, DateOnly From, DateOnly? Until)>();
            for (var day = facts.Birth.Date; day <= asOf; day = day.AddDays(1))
            {
                var at = EvaluateInfant.Evaluate(facts, policy, day).LostAt;
                if (slow is [.., { Until: null } last] && last.Step != at) slow[^1] = last with { Until = day };
                if (at is { } step && slow is not [.., { Until: null }]) slow.Add((step, day, null));
            }

            Assert.Equal(slow, ListLosses.Of(facts, policy, asOf).Select(s => (s.Step, s.From, s.Until)));
            lost += slow.Count;
        }

        Assert.True(lost > 100, $"{lost}");
    }
}
