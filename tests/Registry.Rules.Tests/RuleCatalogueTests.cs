using Registry.Rules.Facts;
using Registry.Rules.Tests.Oracle;
using Xunit;

namespace Registry.Rules.Tests;

public class RuleCatalogueTests
{
    [Fact]
    public void Every_rule_is_complete_and_has_its_own_id()
    {
        Assert.Equal(RuleCatalogue.All.Count, RuleCatalogue.All.Select(r => r.Id).Distinct().Count());
        Assert.All(RuleCatalogue.All, r => Assert.All([r.Id, r.Title, r.Text, r.Source], t => Assert.False(string.IsNullOrWhiteSpace(t))));
        Assert.Equal(Enum.GetValues<RiskIndicatorKind>().Length, RuleCatalogue.Surveillance.Count);
        Assert.All(Enum.GetValues<RiskIndicatorKind>(),
            k => Assert.Equal($"surveillance.{Codes.Of(k).Replace('_', '-')}", RuleCatalogue.Surveillance[(int)k].Id));
    }

    [Fact]
    public void Every_due_names_a_rule_and_every_rule_is_met_among_generated_infants()
    {
        var generated = new GeneratedInfants(21);
        var met = new HashSet<string>();
        for (var i = 0; i < 20_000; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            foreach (var due in EvaluateInfant.Evaluate(facts, policy, asOf).Dues)
            {
                Assert.NotNull(RuleCatalogue.Find(due.Rule));
                Assert.NotEmpty(due.Why);
                met.Add(due.Rule);
            }
        }

        Assert.Empty(RuleCatalogue.All.Select(r => r.Id).Except(met));
    }

    [Fact]
    public void Words_about_a_refer_and_a_pass_carry_the_caution()
    {
        var generated = new GeneratedInfants(22);
        for (var i = 0; i < 5_000; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            var status = EvaluateInfant.Evaluate(facts, policy, asOf);
            foreach (var due in status.Dues.Where(d => d.Why.Contains("referred", StringComparison.Ordinal)
                && d.Rule.StartsWith("screening", StringComparison.Ordinal)))
                Assert.Contains("a refer is not a diagnosis", due.Why, StringComparison.Ordinal);
            if (status is { Screening: ScreeningConclusion.Passed, Diagnosed.State: MilestoneState.NotRequired })
                Assert.Contains("a pass does not exclude later hearing loss", status.Diagnosed.Reason, StringComparison.Ordinal);
        }
    }
}
