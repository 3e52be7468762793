using Registry.Rules.Facts;
using Xunit;

namespace Registry.Rules.Tests.Milestones;

public class EarHearingTests
{
    private static readonly DateOnly Born = new(2026, 3, 10);

    private static InfantStatus After(params DiagnosticEvaluation[] evaluations) => EvaluateInfant.Evaluate(
        new InfantFacts { Birth = new(Born, null), Evaluations = evaluations }, Policy.Default, Born.AddDays(400));

    private static DiagnosticEvaluation Visit(int day, EarFinding right, EarFinding left) => new(Born.AddDays(day), right, left);

    [Fact]
    public void Type_degree_and_side_of_each_ear()
    {
        var status = After(Visit(60, EarFinding.Sensorineural, EarFinding.Conductive) with
        {
            RightDegree = LossDegree.Moderate,
            LeftDegree = LossDegree.Mild,
        });
        Assert.Equal(new EarHearing(EarFinding.Sensorineural, LossDegree.Moderate, Permanent: true), status.RightHearing);
        Assert.Equal(new EarHearing(EarFinding.Conductive, LossDegree.Mild, Permanent: false), status.LeftHearing);
        Assert.Equal(Laterality.Right, status.Laterality);
        Assert.Equal(Born.AddDays(60), status.IdentifiedOn);
    }

    [Fact]
    public void A_loss_that_worsens_keeps_the_day_it_was_identified()
    {
        var status = After(
            Visit(60, EarFinding.Sensorineural, EarFinding.Normal) with { RightDegree = LossDegree.Mild },
            Visit(300, EarFinding.Sensorineural, EarFinding.Sensorineural) with
            {
                RightDegree = LossDegree.Severe,
                LeftDegree = LossDegree.Slight
            });
        Assert.Equal(LossDegree.Severe, status.RightHearing.Degree);
        Assert.Equal(Laterality.Bilateral, status.Laterality);
        Assert.Equal(Born.AddDays(60), status.IdentifiedOn);
    }

    [Fact]
    public void A_provisional_finding_stands_for_nothing()
    {
        var status = After(Visit(60, EarFinding.Sensorineural, EarFinding.Sensorineural) with { Provisional = true });
        Assert.Equal(default, status.RightHearing);
        Assert.Equal(Laterality.None, status.Laterality);
        Assert.Null(status.IdentifiedOn);
        Assert.Equal(HearingConclusion.InProcess, status.Hearing);
    }

    [Fact]
    public void An_ear_not_tested_again_keeps_its_finding()
    {
        var status = After(
            Visit(60, EarFinding.AuditoryNeuropathy, EarFinding.Normal),
            Visit(200, EarFinding.Inconclusive, EarFinding.Normal));
        Assert.Equal(EarFinding.AuditoryNeuropathy, status.RightHearing.Finding);
        Assert.Equal(HearingConclusion.PermanentLoss, status.Hearing);
    }
}
