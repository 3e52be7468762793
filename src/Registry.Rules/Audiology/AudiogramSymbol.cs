using Registry.Rules.Facts;

namespace Registry.Rules.Audiology;

/// <summary>What stands on an audiogram for a threshold.</summary>
public enum AudiogramShape { Circle, Cross, Triangle, Square, AngleLeft, AngleRight, BracketLeft, BracketRight, S }

/// <param name="Shape">The symbol.</param>
/// <param name="ArrowX">Which way the arrow of no response points: down and to the left (-1), to the right (1) or straight down (0);
/// null: no arrow.</param>
/// <remarks>American Speech-Language-Hearing Association, Guidelines for Audiometric Symbols (1990, GL1990-00006). Symbols and arrows as
/// 21 NCAC 22I .0111 lists them: air a circle (right) and an x (left), masked a triangle and a square; bone an angle pointing left and
/// right, masked a bracket open on the right and on the left; no response an arrow to the lower left (right ear) and the lower right (left
/// ear); S for sound field. The arrow of S, straight down, and which line joins the symbols of which ear: from memory. No symbol is
/// published for brainstem thresholds: they are not drawn.</remarks>
public readonly record struct AudiogramSymbol(AudiogramShape Shape, int? ArrowX)
{
    /// <returns>Null for what is not drawn.</returns>
    public static AudiogramSymbol? Of(Threshold threshold)
    {
        var right = threshold.Ear == Ear.Right;
        AudiogramShape? shape = (threshold.Kind, threshold.Masked) switch
        {
            (ThresholdKind.Air, false) => right ? AudiogramShape.Circle : AudiogramShape.Cross,
            (ThresholdKind.Air, true) => right ? AudiogramShape.Triangle : AudiogramShape.Square,
            (ThresholdKind.Bone, false) => right ? AudiogramShape.AngleLeft : AudiogramShape.AngleRight,
            (ThresholdKind.Bone, true) => right ? AudiogramShape.BracketLeft : AudiogramShape.BracketRight,
            (ThresholdKind.SoundField, _) => AudiogramShape.S,
            _ => null,
        };
        int? arrow = !threshold.NoResponse ? null : threshold.Ear switch { Ear.Right => -1, Ear.Left => 1, _ => 0 };
        return shape is { } drawn ? new(drawn, arrow) : null;
    }
}
