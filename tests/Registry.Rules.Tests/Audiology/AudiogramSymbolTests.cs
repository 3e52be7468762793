using Registry.Rules.Audiology;
using Registry.Rules.Facts;
using Xunit;

namespace Registry.Rules.Tests.Audiology;

/// <summary>
/// Every symbol beside the published list: 21 NCAC 22I .0111, "Symbols for audiograms" (eff. 1976, amended 1988), items (1) to (6) and (8),
/// the same as the table of the American Speech-Language-Hearing Association's Guidelines for Audiometric Symbols (1990). From memory: the
/// arrow of the sound field, straight down.
/// </summary>
public sealed class AudiogramSymbolTests
{
    [Theory]
    [InlineData(ThresholdKind.Air, Ear.Right, false, AudiogramShape.Circle)] // (1)(A) a small circle
    [InlineData(ThresholdKind.Bone, Ear.Right, false, AudiogramShape.AngleLeft)] // (1)(B) a 45 degree angle pointing left
    [InlineData(ThresholdKind.Air, Ear.Left, false, AudiogramShape.Cross)] // (2)(A) a small "x"
    [InlineData(ThresholdKind.Bone, Ear.Left, false, AudiogramShape.AngleRight)] // (2)(B) a 45 degree angle pointing right
    [InlineData(ThresholdKind.Air, Ear.Right, true, AudiogramShape.Triangle)] // (3)(A) a small triangle
    [InlineData(ThresholdKind.Bone, Ear.Right, true, AudiogramShape.BracketLeft)] // (3)(B) a single bracket open on the right: [
    [InlineData(ThresholdKind.Air, Ear.Left, true, AudiogramShape.Square)] // (4)(A) a small square
    [InlineData(ThresholdKind.Bone, Ear.Left, true, AudiogramShape.BracketRight)] // (4)(B) a single bracket open on the left: ]
    public void Each_ear_and_way_has_its_symbol_and_its_arrow(ThresholdKind kind, Ear ear, bool masked, AudiogramShape shape)
    {
        Assert.Equal(new AudiogramSymbol(shape, null), AudiogramSymbol.Of(new(kind, ear, 1000, 40, Masked: masked)));
        // (5) no response of the right ear: an arrow pointing southwest; (6) of the left ear: southeast.
        Assert.Equal(new AudiogramSymbol(shape, ear == Ear.Right ? -1 : 1),
            AudiogramSymbol.Of(new(kind, ear, 1000, 40, NoResponse: true, Masked: masked)));
    }

    [Fact]
    public void The_sound_field_is_an_S_and_a_brainstem_threshold_has_no_symbol()
    {
        Assert.Equal(new AudiogramSymbol(AudiogramShape.S, null), AudiogramSymbol.Of(new(ThresholdKind.SoundField, null, 1000, 40))); // (8)
        Assert.Equal(new AudiogramSymbol(AudiogramShape.S, 0),
            AudiogramSymbol.Of(new(ThresholdKind.SoundField, null, 1000, 90, NoResponse: true)));
        Assert.Null(AudiogramSymbol.Of(new(ThresholdKind.AbrAir, Ear.Right, 1000, 40)));
        Assert.Null(AudiogramSymbol.Of(new(ThresholdKind.AbrBone, Ear.Left, 1000, 40)));
    }
}
