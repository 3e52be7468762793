using Registry.Rules.Facts;
using Xunit;

namespace Registry.Rules.Tests.Facts;

/// <summary>Thresholds as text: written and read are the same, and whatever cannot be is named without its value.</summary>
public sealed class ThresholdTests
{
    private const string NotWhole = "the level is not a whole number of dB (> before it: no response; m behind it: masked)";

    [Theory]
    [InlineData(ThresholdKind.Air, "125:-10;500:40;1000:45m;4000:>110;8000:>120m")]
    [InlineData(ThresholdKind.Bone, "250:0;4000:>80m")]
    [InlineData(ThresholdKind.SoundField, "500:25;2000:>90")]
    [InlineData(ThresholdKind.AbrAir, "click:35;500:>100m")]
    [InlineData(ThresholdKind.AbrBone, "click:20;2000:15")]
    public void What_is_written_is_read(ThresholdKind kind, string text)
    {
        Ear? ear = kind == ThresholdKind.SoundField ? null : Ear.Left;
        var (thresholds, problem) = Threshold.Read(kind, ear, text);
        Assert.Null(problem);
        Assert.Equal(text, Threshold.Write(thresholds));
        Assert.All(thresholds, t => Assert.Equal((kind, ear), (t.Kind, t.Ear)));
        Assert.Equal(thresholds, Threshold.Read(kind, ear, Spaced(text)).Thresholds);
    }

    private static string Spaced(string text) => text.Replace(":", " : ", StringComparison.Ordinal).ToUpperInvariant();

    [Theory]
    [InlineData(ThresholdKind.Air, "", "has no threshold; each is frequency:level, with ; between them")]
    [InlineData(ThresholdKind.Air, "500", "threshold 1: is not frequency:level")]
    [InlineData(ThresholdKind.Air, "500:40:1", "threshold 1: is not frequency:level")]
    [InlineData(ThresholdKind.Air, "500:40;501:40",
        "threshold 2: the frequency is not one of 125, 250, 500, 750, 1000, 1500, 2000, 3000, 4000, 6000, 8000 Hz")]
    [InlineData(ThresholdKind.Air, "click:40",
        "threshold 1: the frequency is not one of 125, 250, 500, 750, 1000, 1500, 2000, 3000, 4000, 6000, 8000 Hz")]
    [InlineData(ThresholdKind.Bone, "8000:40", "threshold 1: the frequency is not one of 250, 500, 750, 1000, 1500, 2000, 3000, 4000 Hz")]
    [InlineData(ThresholdKind.Air, "500:40;500:45", "threshold 2: the frequency is there twice")]
    [InlineData(ThresholdKind.Air, "500:121", "500 Hz: the level is not between -10 and 120 dB")]
    [InlineData(ThresholdKind.Air, "500:-11", "500 Hz: the level is not between -10 and 120 dB")]
    [InlineData(ThresholdKind.Bone, "500:85", "500 Hz: the level is not between -10 and 80 dB")]
    [InlineData(ThresholdKind.Air, "500:4O", "500 Hz: " + NotWhole)]
    [InlineData(ThresholdKind.Air, "500:", "500 Hz: " + NotWhole)]
    [InlineData(ThresholdKind.AbrAir, "click:mm", "click: " + NotWhole)]
    [InlineData(ThresholdKind.SoundField, "500:40m", "500 Hz: nothing is masked in the sound field")]
    public void What_cannot_be_is_named(ThresholdKind kind, string text, string problem) =>
        Assert.Equal(problem, Threshold.Read(kind, Ear.Right, text).Problem);

    [Fact]
    public void Later_tests_complete_an_evaluation_and_other_values_contradict_it()
    {
        var first = new EvaluationDetail { Thresholds = Threshold.Read(ThresholdKind.Air, Ear.Right, "500:40").Thresholds };
        var more = new EvaluationDetail
        {
            RightEmissions = Emissions.Absent,
            Thresholds = Threshold.Read(ThresholdKind.Air, Ear.Right, "500:40;1000:45").Thresholds,
        };
        Assert.Equal(more, first.CompletedBy(more));
        Assert.Equal(more, more.CompletedBy(first));
        Assert.Null(first.CompletedBy(new() { Thresholds = Threshold.Read(ThresholdKind.Air, Ear.Right, "500:45").Thresholds }));
        Assert.Null(more.CompletedBy(new() { RightEmissions = Emissions.Present }));
        Assert.True(new EvaluationDetail().IsEmpty);
        Assert.False(first.IsEmpty);
    }
}
