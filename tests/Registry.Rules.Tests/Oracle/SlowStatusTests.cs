using System.Diagnostics;
using Xunit;

namespace Registry.Rules.Tests.Oracle;

/// <summary>The rules agree with an implementation written from their text, on infants stranger than any region has.</summary>
public class SlowStatusTests(ITestOutputHelper output)
{
    [Fact]
    public void Agrees_on_twenty_thousand_infants() => Check(seed: 11, infants: 20_000);

    [Fact(Explicit = true)]
    public void Agrees_on_a_million_infants() => Check(seed: 12, infants: 1_000_000);

    private void Check(int seed, int infants)
    {
        var clock = Stopwatch.StartNew();
        var generated = new GeneratedInfants(seed);
        var conclusions = new int[Enum.GetValues<ScreeningConclusion>().Length];
        for (var i = 0; i < infants; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            var status = EvaluateInfant.Evaluate(facts, policy, asOf);
            var expected = SlowStatus.On(facts, policy, asOf);
            var actual = SlowStatus.Of(status);
            if (expected != actual)
                Assert.Fail($"seed {seed}, infant {i}, as of {asOf}, policy {policy.Version}\nexpected {expected}\nactual   "
                    + $"{actual}\n{Describe(facts)}");
            conclusions[(int)status.Screening]++;
        }

        Assert.All(conclusions, count => Assert.True(count > infants / 100));
        output.WriteLine($"{infants} infants in {clock.Elapsed.TotalSeconds:F1} s; by screening conclusion: "
            + $"{string.Join(", ", conclusions)}");
    }

    private static string Describe(Rules.Facts.InfantFacts facts) =>
        $"{facts.Birth}\n{string.Join("\n", facts.Tests.OrderBy(t => t.PerformedAt))}\n{string.Join("\n", facts.Evaluations)}\n{string.Join("\n", facts.Interventions)}\n"
        + $"died {facts.DiedOn}\n{string.Join("\n", facts.Moves)}\n{string.Join("\n", facts.Refusals)}\n{string.Join("\n", facts.RiskIndicators)}\n"
        + $"{string.Join("\n", facts.ContactAttempts)}\n{string.Join("\n", facts.Readmissions)}\n{string.Join("\n", facts.MedicalDelays)}";
}
