using Registry.Rules.Audiology;
using Registry.Rules.Facts;
using Xunit;

namespace Registry.Rules.Tests.Audiology;

/// <summary>What thresholds suggest. Bands: Clark 1981, Asha 23:493-500, as printed: normal -10 to 15, slight 16 to 25, mild 26 to 40,
/// moderate 41 to 55, moderately severe 56 to 70, severe 71 to 90, profound 91 and more.</summary>
public sealed class SuggestFindingTests
{
    [Theory]
    [InlineData(-10, LossDegree.NotStated)]
    [InlineData(15, LossDegree.NotStated)]
    [InlineData(16, LossDegree.Slight)]
    [InlineData(25, LossDegree.Slight)]
    [InlineData(26, LossDegree.Mild)]
    [InlineData(40, LossDegree.Mild)]
    [InlineData(41, LossDegree.Moderate)]
    [InlineData(55, LossDegree.Moderate)]
    [InlineData(56, LossDegree.ModeratelySevere)]
    [InlineData(70, LossDegree.ModeratelySevere)]
    [InlineData(71, LossDegree.Severe)]
    [InlineData(90, LossDegree.Severe)]
    [InlineData(91, LossDegree.Profound)]
    [InlineData(120, LossDegree.Profound)]
    public void Every_level_falls_in_the_band_that_is_printed(int db, LossDegree degree) => Assert.Equal(degree, DegreeBand.Of(db).Degree);

    [Fact]
    public void Every_level_an_audiogram_has_is_in_one_band()
    {
        for (var db = Threshold.LeastDb; db <= Threshold.MostDb; db++)
            Assert.Single(DegreeBand.All, b => db >= b.LeastDb && db <= b.MostDb);
    }

    [Theory]
    [InlineData("500:30;1000:40;2000:50", 40, LossDegree.Mild)]
    [InlineData("500:40;1000:41;2000:41;8000:110", 40.67, LossDegree.Moderate)] // as its nearest whole decibel
    [InlineData("500:30;2000:60", 45, LossDegree.Moderate)] // 1000 Hz left out
    [InlineData("500:60;1000:>110;2000:>110", 93.33, LossDegree.Profound)]
    public void The_degree_is_that_of_the_average(string air, double average, LossDegree degree)
    {
        var found = SuggestFinding.Of(Of(ThresholdKind.Air, air), Ear.Right)!;
        Assert.Equal((decimal)average, decimal.Round(found.AverageDb, 2));
        Assert.Equal((degree, air.Contains('>', StringComparison.Ordinal)), (found.Band.Degree, found.OrWorse));
        Assert.Null(found.Type);
    }

    [Theory]
    [InlineData("1000:30;2000:30")]
    [InlineData("500:30;1000:40")]
    [InlineData("4000:30")]
    public void Too_few_frequencies_suggest_nothing(string air) => Assert.Null(SuggestFinding.Of(Of(ThresholdKind.Air, air), Ear.Right));

    [Fact]
    public void Brainstem_thresholds_suggest_a_degree_as_estimated_hearing_level_only()
    {
        var abr = Of(ThresholdKind.AbrAir, "click:70;500:45;2000:45");
        Assert.Null(SuggestFinding.Of(abr with { AbrScale = AbrScale.Nhl }, Ear.Right));
        var found = SuggestFinding.Of(abr with { AbrScale = AbrScale.Ehl }, Ear.Right)!;
        Assert.Equal((45, true, LossDegree.Moderate), ((int)found.AverageDb, found.FromAbr, found.Band.Degree));
    }

    [Theory]
    [InlineData("500:40;1000:40;2000:40", "500:10;1000:5;2000:10", EarFinding.Conductive)]
    [InlineData("500:40;1000:40;2000:40", "500:40;1000:35;2000:40", EarFinding.Sensorineural)]
    [InlineData("500:70;1000:70;2000:70", "500:40;1000:40;2000:40", EarFinding.Mixed)]
    [InlineData("500:10;1000:5;2000:10", "500:5;1000:5;2000:5", EarFinding.Normal)]
    public void The_type_is_that_of_the_gap_between_air_and_bone(string air, string bone, EarFinding type) =>
        Assert.Equal(type, SuggestFinding.Of(Of(ThresholdKind.Air, air, bone), Ear.Right)!.Type);

    internal static EvaluationDetail Of(ThresholdKind kind, string air, string? bone = null) => new()
    {
        Thresholds = [.. Threshold.Read(kind, Ear.Right, air).Thresholds,
            .. bone is null ? [] : Threshold.Read(ThresholdKind.Bone, Ear.Right, bone).Thresholds],
    };
}
