using Registry.Rules.Audiology;
using Registry.Rules.Facts;
using Xunit;

namespace Registry.Rules.Tests.Audiology;

/// <summary>What does not fit together is named; what fits is not.</summary>
public sealed class DoubtEvaluationTests
{
    private static readonly EvaluationDetail Told = new()
    {
        BehavioralMethod = BehavioralMethod.VisualReinforcement,
        AirTransducer = AirTransducer.InsertEarphones,
    };

    [Theory]
    [InlineData("500:45;1000:45;2000:45", "500:40m;1000:40m;2000:40m", EarFinding.Sensorineural, LossDegree.Moderate, null)]
    [InlineData("500:45;1000:45;2000:45", "500:40m;1000:40m;2000:40m", EarFinding.Sensorineural, LossDegree.Severe,
        EvaluationDoubt.DegreeDiffers)]
    [InlineData("500:45;1000:45;2000:45", "500:40m;1000:40m;2000:40m", EarFinding.Sensorineural, LossDegree.NotStated,
        EvaluationDoubt.DegreeMissing)]
    [InlineData("500:45;1000:45;2000:45", "500:40m;1000:40m;2000:40m", EarFinding.Conductive, LossDegree.Moderate,
        EvaluationDoubt.TypeDiffers)]
    [InlineData("500:45;1000:45;2000:45", null, EarFinding.Normal, LossDegree.NotStated, EvaluationDoubt.DegreeDiffers)]
    [InlineData("500:10;1000:10;2000:10", null, EarFinding.Normal, LossDegree.NotStated, null)]
    [InlineData("500:10;1000:10;2000:10", "500:25m", EarFinding.Normal, LossDegree.NotStated, EvaluationDoubt.BoneWorseThanAir)]
    [InlineData("500:40;1000:40;2000:40", "500:5;1000:5m;2000:5m", EarFinding.Conductive, LossDegree.Mild, EvaluationDoubt.GapNotMasked)]
    [InlineData("500:60;1000:>110;2000:>110", null, EarFinding.Sensorineural, LossDegree.Profound, null)]
    [InlineData("500:60;1000:>110;2000:>110", null, EarFinding.Sensorineural, LossDegree.Mild, EvaluationDoubt.DegreeDiffers)]
    [InlineData("500:45;1000:45;2000:45", null, EarFinding.Inconclusive, LossDegree.NotStated, null)]
    public void Findings_are_set_beside_thresholds(
        string air, string? bone, EarFinding finding, LossDegree degree, EvaluationDoubt? doubt)
    {
        var detail = Told with { Thresholds = SuggestFindingTests.Of(ThresholdKind.Air, air, bone).Thresholds };
        EvaluationDoubt[] expected = doubt is { } one ? [one] : [];
        Assert.Equal(expected, Doubts(finding, degree, detail));
    }

    [Fact]
    public void Emissions_without_a_response_to_a_click_are_the_pattern_of_auditory_neuropathy()
    {
        var detail = new EvaluationDetail
        {
            RightEmissions = Emissions.Present,
            AbrScale = AbrScale.Nhl,
            Thresholds = [new(ThresholdKind.AbrAir, Ear.Right, Threshold.Click, 90, NoResponse: true)],
        };
        Assert.Equal([EvaluationDoubt.NeuropathyPattern], Doubts(EarFinding.Sensorineural, LossDegree.Profound, detail));
        Assert.Empty(Doubts(EarFinding.AuditoryNeuropathy, LossDegree.NotStated, detail));
        Assert.Empty(Doubts(EarFinding.Sensorineural, LossDegree.Profound, detail with { RightEmissions = Emissions.Absent }));
    }

    [Fact]
    public void How_it_was_tested_is_asked_where_it_was_tested()
    {
        var detail = SuggestFindingTests.Of(ThresholdKind.Air, "4000:20");
        Assert.Equal([EvaluationDoubt.MethodMissing, EvaluationDoubt.TransducerMissing], Doubts(EarFinding.Normal, default, detail));
        Assert.Empty(Doubts(EarFinding.Normal, default, new EvaluationDetail { RightEmissions = Emissions.Present }));
        Assert.Empty(DoubtEvaluation.Of((EarFinding.Mixed, LossDegree.Severe), default, null));
    }

    private static IEnumerable<EvaluationDoubt> Doubts(EarFinding finding, LossDegree degree, EvaluationDetail detail) =>
        DoubtEvaluation.Of((finding, degree), (EarFinding.NotEvaluated, default), detail).Select(d => d.Doubt);
}
