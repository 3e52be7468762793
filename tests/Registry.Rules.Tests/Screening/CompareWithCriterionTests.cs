using System.Text.Json;
using Registry.Rules.Facts;
using Registry.Rules.Screening;
using Xunit;

namespace Registry.Rules.Tests.Screening;

/// <summary>What is compared is common practice, no source; the arithmetic is checked by hand.</summary>
public class CompareWithCriterionTests
{
    private static readonly PassCriterion ThreeBands = new(3, 6);

    private static TestDetail Bands(string text) => new() { Bands = TestDetail.ReadBands(text).Bands };

    [Theory]
    // Four bands; the ratio of 3000 Hz is 5 − (−1) = 6 and just enough.
    [InlineData(ScreeningOutcome.Pass, "2000:8:-2;3000:5:-1;4000:::6.1;5000:::2", CriterionFinding.Agrees, 3, 4)]
    [InlineData(ScreeningOutcome.Pass, "2000:8:-2;3000:5:-0.9;4000:::6.1;5000:::2", CriterionFinding.PassBelowCriterion, 2, 4)]
    [InlineData(ScreeningOutcome.Refer, "2000:8:-2;3000:5:-0.9;4000:::6.1;5000:::2", CriterionFinding.Agrees, 2, 4)]
    [InlineData(ScreeningOutcome.Refer, "2000:8:-2;3000:5:-1;4000:::6.1;5000:::2", CriterionFinding.ReferMeetsCriterion, 3, 4)]
    [InlineData(ScreeningOutcome.Pass, "2000:8:-2;3000:5", CriterionFinding.PassWithTooFewBands, 1, 1)]
    [InlineData(ScreeningOutcome.NoValidResult, "2000:8:-2;3000:5:-1;4000:::6.1", CriterionFinding.NotCompared, 0, 0)]
    [InlineData(ScreeningOutcome.Pass, "2000:8;3000:5", CriterionFinding.NotCompared, 0, 0)]
    public void An_outcome_stands_to_the_criterion(ScreeningOutcome outcome, string bands, CriterionFinding finding, int met, int judged)
    {
        var result = CompareWithCriterion.Compare(outcome, Bands(bands), ThreeBands);
        Assert.Equal((finding, met, judged), (result.Finding, result.Met, result.Judged));
        Assert.Equal(finding is CriterionFinding.NotCompared or CriterionFinding.Agrees, result.Says().Length == 0);
    }

    [Fact]
    public void A_level_and_the_frequencies_that_count_can_be_asked_for()
    {
        var criterion = new PassCriterion(2, 6) { MinLevelDbSpl = -5, FrequenciesHz = [2000, 3000, 4000] };
        Assert.Equal((CriterionFinding.PassBelowCriterion, 1, 3),
            CompareWithCriterion.Compare(ScreeningOutcome.Pass, Bands("1000:9:-9;2000:-5:-12;3000:-6:-20;4000:2:0"), criterion) is var r
                ? (r.Finding, r.Met, r.Judged) : default);
    }

    [Fact]
    public void Without_a_criterion_or_a_detail_nothing_is_compared()
    {
        Assert.Equal(default, CompareWithCriterion.Compare(ScreeningOutcome.Pass, Bands("2000:1:0"), null));
        Assert.Equal(default, CompareWithCriterion.Compare(ScreeningOutcome.Pass, null, ThreeBands));
    }

    [Fact]
    public void The_site_comes_before_the_instrument_before_the_method()
    {
        PassCriterion method = new(1, 1) { Method = ScreeningMethod.Dpoae }, instrument = new(2, 1) { Instrument = "I1" },
            site = new(3, 1) { Site = "harbour" },
            both = new(4, 1) { Site = "harbour", Instrument = "I1" };
        PassCriterion[] all = [method, instrument, site, both];
        Assert.Equal([both, site, instrument, method, null],
            [
                PassCriterion.For(all, "HARBOUR", "i1", ScreeningMethod.Dpoae),
                PassCriterion.For(all, "harbour", "I2", ScreeningMethod.Dpoae),
                PassCriterion.For(all, "hill", "I1", ScreeningMethod.Dpoae), PassCriterion.For(all, "hill", null, ScreeningMethod.Dpoae),
                PassCriterion.For(all, "hill", "I2", ScreeningMethod.Teoae),
            ]);
    }

    [Fact]
    public void Criteria_are_policy_shown_in_words_and_refused_with_the_field_that_is_wrong()
    {
        var policy = Policy.Default with
        {
            PassCriteria = [new(3, 6) { Site = "harbour", Method = ScreeningMethod.Dpoae, FrequenciesHz = [2000, 3000, 4000, 5000] }],
        };
        var back = Policy.FromJson(policy.ToJson());
        Assert.Equal("harbour, dpoae: 3 bands of 2000, 3000, 4000, 5000 Hz with at least 6 dB signal to noise",
            Assert.Single(back.Choices(), c => c.Name == "passCriteria").Value);
        foreach (var (good, bad, problem) in new[]
        {
            ("\"bands\": 3", "\"bands\": 0", "passCriteria[0].bands: 0 is not between 1 and 32."),
            ("\"bands\": 3", "\"bands\": 5", "passCriteria[0].frequenciesHz: there are fewer than the 5 bands needed."),
            ("\"minSnrDb\": 6", "\"minSnrDb\": 60", "passCriteria[0].minSnrDb: 60 is not between 0 and 40."),
            ("\"method\": \"dpoae\"", "\"method\": \"bell\"", "passCriteria[0].method"),
        })
        {
            var json = policy.ToJson();
            Assert.Contains(good, json, StringComparison.Ordinal);
            Assert.Contains(problem, Assert.Throws<JsonException>(() =>
                Policy.FromJson(json.Replace(good, bad, StringComparison.Ordinal))).Message, StringComparison.Ordinal);
        }

        Assert.Equal(["passCriteria[1]: an earlier one is for the same site, instrument and method."],
            (policy with { PassCriteria = [policy.PassCriteria[0], policy.PassCriteria[0] with { Site = "HARBOUR" }] }).Problems());
    }
}
