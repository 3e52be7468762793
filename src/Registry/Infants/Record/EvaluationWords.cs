using Registry.Rules.Audiology;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>How the tests of a diagnostic evaluation read.</summary>
public static class EvaluationWords
{
    public const string Caution =
        "What thresholds suggest is no diagnosis: the audiologist concludes. A normal evaluation does not exclude a later hearing loss.";

    public static string Of(BehavioralMethod method) => method switch
    {
        BehavioralMethod.Conventional => "Conventional audiometry",
        BehavioralMethod.ConditionedPlay => "Conditioned play audiometry",
        BehavioralMethod.VisualReinforcement => "Visual reinforcement audiometry",
        _ => "Behavioral observation",
    };

    public static string Of(AirTransducer transducer) => transducer switch
    {
        AirTransducer.InsertEarphones => "Insert earphones",
        AirTransducer.SupraAuralEarphones => "Supra-aural earphones",
        _ => "Circumaural earphones",
    };

    public static string Of(Tympanogram tympanogram) => tympanogram switch
    {
        Tympanogram.TypeA => "Type A",
        Tympanogram.TypeAs => "Type As",
        Tympanogram.TypeAd => "Type Ad",
        Tympanogram.TypeB => "Type B",
        Tympanogram.TypeC => "Type C",
        _ => Words.Of((Enum)tympanogram),
    };

    public static string Of(Emissions emissions) => Words.Of((Enum)emissions);

    public static string Of(ScreeningMethod method) =>
        method == ScreeningMethod.Oae ? "Emissions, kind not stated" : Words.Of((Enum)method);

    public static string Of(AbrScale scale) => scale == AbrScale.Nhl ? "dB nHL" : "dB eHL";

    public static string Of(ThresholdKind kind) => kind switch
    {
        ThresholdKind.Air => "air",
        ThresholdKind.Bone => "bone",
        ThresholdKind.SoundField => "sound field",
        ThresholdKind.AbrAir => "ABR by air",
        _ => "ABR by bone",
    };

    /// <summary>"Right ear, air"; the sound field is of no single ear.</summary>
    public static string Of(ThresholdKind kind, Ear? ear) => ear is { } one ? $"{TimeLineWords.Ear(one)}, {Of(kind)}" : "Sound field";

    public static string Frequency(int hz) => hz == Threshold.Click ? "Click" : $"{Words.Count(hz)} Hz";

    /// <summary>"45, masked", "no response at 110".</summary>
    public static string Level(Threshold threshold) =>
        $"{(threshold.NoResponse ? "no response at " : "")}{Signed(threshold.LevelDb)}{(threshold.Masked ? ", masked" : "")}";

    public static string Of(LossDegree degree) => degree == LossDegree.NotStated ? "Normal" : Words.Of((Enum)degree);

    public static string Of(DegreeBand band) => band.Degree == LossDegree.Profound
        ? $"{Of(band.Degree)}, {band.LeastDb} and more" : $"{Of(band.Degree)}, {Signed(band.LeastDb)} to {band.MostDb}";

    /// <summary>What stands on an audiogram, for its key.</summary>
    public static string Of(Threshold threshold, AudiogramSymbol symbol) =>
        $"{Of(threshold.Kind, threshold.Ear)}{(threshold.Masked ? ", masked" : "")}{(symbol.ArrowX is null ? "" : ", no response")}";

    public static string Suggested(Ear ear, SuggestedFinding? found)
    {
        if (found is null)
        {
            return $"{TimeLineWords.Ear(ear)}: nothing is suggested; "
                + "that takes thresholds by air at 500 and 2,000 Hz, or by ABR in dB eHL.";
        }

        var average = $"{(found.OrWorse ? "at least " : "")}{Db(found.AverageDb)} {(found.FromAbr ? "dB eHL" : "dB HL")}";
        var of = string.Join(", ", found.Frequencies.Select(hz => Words.Count(hz)));
        var type = found is { Type: { } kind, GapDb: { } gap }
            ? $" Air and bone are {Db(gap)} dB apart: {Words.Within(Words.Of(kind))}." : " The type takes thresholds by bone.";
        return $"{TimeLineWords.Ear(ear)}: average of {of} Hz {average}: {Words.Within(Of(found.Band.Degree))} "
            + $"({found.Band.LeastDb} to {found.Band.MostDb}; Clark 1981).{type}";
    }

    public static string Of(DoubtedEvaluation doubt) =>
        doubt.Ear is { } ear ? $"{TimeLineWords.Ear(ear)}: {doubt.Says()}." : $"Both ears: {doubt.Says()}.";

    /// <summary>A number as people write it: a real minus, no needless decimals.</summary>
    public static string Db(decimal db) =>
        decimal.Round(db, 0, MidpointRounding.AwayFromZero).ToString("0", System.Globalization.CultureInfo.InvariantCulture)
            .Replace('-', '\u2212');

    private static string Signed(int db) => Db(db);
}
