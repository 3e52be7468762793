using System.Globalization;
using Registry.Rules.Audiology;
using Registry.Rules.Facts;

namespace Registry.Infants.Record;

/// <summary>A line or a symbol of the drawing.</summary>
/// <param name="Path">As SVG's path data.</param>
/// <param name="Class">What the style sheet knows it by.</param>
/// <param name="Of">The threshold; null for a line.</param>
public sealed record AudiogramMark(string Path, string Class, Threshold? Of = null);

/// <summary>
/// Where things stand on an audiogram: one octave across is as long as 20 dB down (ASHA 1990; ANSI S3.6). Bone conduction stands beside its
/// frequency, of the right ear to the left. A line joins what was heard by air, and never goes through no response.
/// </summary>
public static class DrawAudiogram
{
    public const int Width = 560, Height = 450, Left = 50, Top = 32;
    private const int Octave = 60;
    private const double Decibel = Octave / 20d;

    public static double Right => X(8000) + 18;
    public static double Bottom => Y(Threshold.MostDb);

    public static double X(int hz) => Left + 18 + (Octave * Math.Log2(hz / 125d));

    public static double Y(double db) => Top + ((db - Threshold.LeastDb) * Decibel);

    /// <summary>A number of the drawing.</summary>
    public static string N(double number) => number.ToString("0.#", CultureInfo.InvariantCulture);

    public static IEnumerable<AudiogramMark> Marks(EvaluationDetail detail)
    {
        foreach (var ear in Enum.GetValues<Ear>())
            foreach (var line in Lines(detail, ear)) yield return new(line, $"joined {Codes.Of(ear)}");
        foreach (var threshold in detail.Thresholds)
        {
            if (AudiogramSymbol.Of(threshold) is { } symbol)
                yield return new(Place(symbol, threshold), $"sign {(threshold.Ear is { } ear ? Codes.Of(ear) : "both")}", threshold);
        }
    }

    /// <summary>A symbol by itself, around a point, for the key.</summary>
    public static string Draw(AudiogramSymbol symbol, double x, double y)
    {
        var path = symbol.Shape switch
        {
            AudiogramShape.Circle => $"M{N(x - 6)} {N(y)}a6 6 0 1 0 12 0a6 6 0 1 0 -12 0",
            AudiogramShape.Cross => $"M{N(x - 5)} {N(y - 5)}l10 10m0 -10l-10 10",
            AudiogramShape.Triangle => $"M{N(x)} {N(y - 7)}l6.5 12h-13z",
            AudiogramShape.Square => $"M{N(x - 5.5)} {N(y - 5.5)}h11v11h-11z",
            AudiogramShape.AngleLeft => $"M{N(x + 4)} {N(y - 6)}l-8 6l8 6",
            AudiogramShape.AngleRight => $"M{N(x - 4)} {N(y - 6)}l8 6l-8 6",
            AudiogramShape.BracketLeft => $"M{N(x + 3)} {N(y - 6)}h-6v12h6",
            AudiogramShape.BracketRight => $"M{N(x - 3)} {N(y - 6)}h6v12h-6",
            _ => $"M{N(x + 4)} {N(y - 5)}c-5 -3 -10 0 -8 3c1.5 2.5 7 2 8 4c1 3 -4 6 -8 3",
        };
        return symbol.ArrowX is { } side ? $"{path}{Arrow(x, y, side)}" : path;
    }

    /// <summary>From the lower corner of the symbol down, to the side of its ear.</summary>
    private static string Arrow(double x, double y, int side) => side == 0
        ? $"M{N(x)} {N(y + 7)}v12m-3 -4l3 4l3 -4"
        : $"M{N(x + (side * 5))} {N(y + 6)}l{N(side * 9)} 9m{N(side * -5)} 0h{N(side * 5)}v-5";

    private static string Place(AudiogramSymbol symbol, Threshold threshold)
    {
        var beside = threshold.Kind != ThresholdKind.Bone ? 0 : threshold.Ear == Ear.Right ? -9 : 9;
        return Draw(symbol, X(threshold.FrequencyHz) + beside, Y(threshold.LevelDb));
    }

    private static IEnumerable<string> Lines(EvaluationDetail detail, Ear ear)
    {
        var points = new List<string>();
        foreach (var threshold in detail.Of(ThresholdKind.Air, ear).Append(new(ThresholdKind.Air, ear, 8000, 0, NoResponse: true)))
        {
            if (!threshold.NoResponse)
            {
                points.Add($"{N(X(threshold.FrequencyHz))} {N(Y(threshold.LevelDb))}");
                continue;
            }

            if (points.Count > 1) yield return $"M{string.Join('L', points)}";
            points.Clear();
        }
    }
}
