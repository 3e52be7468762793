using Registry.Rules.Tests.Oracle;
using Xunit;

namespace Registry.Rules.Tests;

/// <summary>The nightly sweep trusts <see cref="InfantStatus.NextChangeOn"/>: nothing may change before it, and something must on
/// it.</summary>
public class NextChangeTests
{
    [Fact]
    public void Until_the_next_change_every_day_says_the_same_and_on_it_something_differs() => Check(seed: 1, infants: 1_500);

    [Fact(Explicit = true)]
    public void The_same_for_many_more() => Check(seed: 2, infants: 100_000);

    private static void Check(int seed, int infants)
    {
        var generated = new GeneratedInfants(seed);
        for (var i = 0; i < infants; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            var status = EvaluateInfant.Evaluate(facts, policy, asOf);
            var change = status.NextChangeOn;
            // Without a change on the calendar, look twelve years ahead in uneven steps.
            var step = change is null ? 1 + i % 13 : 1;
            var until = change ?? asOf.AddYears(12);
            for (var day = asOf.AddDays(step); day < until; day = day.AddDays(step))
                Assert.True(status.Equals(EvaluateInfant.Evaluate(facts, policy, day)),
                    $"seed {seed}, infant {i}: differs on {day}, before {change}");

            if (change is not { } changed) continue;
            var later = EvaluateInfant.Evaluate(facts, policy, changed);
            Assert.False(status.Equals(later with { NextChangeOn = change }), $"seed {seed}, infant {i}: nothing changes on {change}");
        }
    }

    [Fact]
    public void The_order_in_which_facts_arrived_does_not_matter()
    {
        var generated = new GeneratedInfants(3);
        for (var i = 0; i < 40_000; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            var turned = facts with
            {
                Tests = [.. facts.Tests.Reverse()],
                Evaluations = [.. facts.Evaluations.Reverse()],
                Interventions = [.. facts.Interventions.Reverse()],
                Moves = [.. facts.Moves.Reverse()],
                Transfers = [.. facts.Transfers.Reverse()],
                Refusals = [.. facts.Refusals.Reverse()],
                RiskIndicators = [.. facts.RiskIndicators.Reverse()],
                ContactAttempts = [.. facts.ContactAttempts.Reverse()],
                Readmissions = [.. facts.Readmissions.Reverse()],
                MedicalDelays = [.. facts.MedicalDelays.Reverse()],
            };
            Assert.Equal(EvaluateInfant.Evaluate(facts, policy, asOf), EvaluateInfant.Evaluate(turned, policy, asOf));
        }
    }
}
