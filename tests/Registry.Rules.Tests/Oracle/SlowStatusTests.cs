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
                Assert.Fail($"seed {seed}, infant {i}, as of {asOf}, policy {policy.Version}\n"
                    + $"expected {expected}\nactual   {actual}\n{Describe(facts)}");
            conclusions[(int)status.Screening]++;
        }

        Assert.All(conclusions, count => Assert.True(count > infants / 100));
        output.WriteLine($"{infants} infants in {clock.Elapsed.TotalSeconds:F1} s; by screening conclusion: "
            + $"{string.Join(", ", conclusions)}");
    }

    private static string Describe(Rules.Facts.InfantFacts facts) =>
        string.Join('\n', new object[] { facts.Birth, $"died {facts.DiedOn}" }
            .Concat(facts.Tests.OrderBy(t => t.PerformedAt).Cast<object>())
            .Concat(facts.Evaluations.Cast<object>())
            .Concat(facts.Interventions.Cast<object>())
            .Concat(facts.Moves.Cast<object>())
            .Concat(facts.Transfers.Cast<object>())
            .Concat(facts.Refusals.Cast<object>())
            .Concat(facts.RiskIndicators.Cast<object>())
            .Concat(facts.ContactAttempts.Cast<object>())
            .Concat(facts.Readmissions.Cast<object>())
            .Concat(facts.MedicalDelays.Cast<object>()));
}
