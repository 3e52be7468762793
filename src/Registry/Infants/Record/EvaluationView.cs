using Registry.Facts;
using Registry.Rules.Audiology;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>Thresholds as a table: a line for each frequency, a column for each ear and way.</summary>
public sealed record ThresholdTable(
    string Caption, IReadOnlyList<int> Frequencies, IReadOnlyList<(string Name, IReadOnlyList<string> Cells)> Columns);

/// <summary>What the tests of one evaluation gave, as the record shows it.</summary>
/// <param name="Found">The evaluation.</param>
/// <param name="HeldUntil">When it was corrected or retracted, and is folded away; null while it holds.</param>
public sealed record EvaluationView(ReportedDiagnosis Found, DateTimeOffset? HeldUntil)
{
    public bool Holds => HeldUntil is null;
    public EvaluationDetail Detail => Found.Detail!;

    /// <summary>Names its parts among those of other evaluations.</summary>
    public string Name => $"evaluation of {Words.Date(Found.EvaluatedOn)}{(HeldUntil is { } until ? $", until {Words.Time(until)}" : "")}";

    public IReadOnlyList<string> Doubts { get; } = [.. DoubtEvaluation
        .Of((Found.Right, Found.RightDegree), (Found.Left, Found.LeftDegree), Found.Detail).Select(EvaluationWords.Of)];

    /// <summary>What is drawn; without any there is no audiogram.</summary>
    public IReadOnlyList<AudiogramMark> Marks { get; } = [.. DrawAudiogram.Marks(Found.Detail!)];

    /// <summary>Each symbol that is drawn, once, with its words.</summary>
    public IEnumerable<(AudiogramSymbol Symbol, string Ear, string Words)> Key => Marks.Select(m => m.Of).OfType<Threshold>()
        .Select(t => (Symbol: AudiogramSymbol.Of(t)!.Value, Ear: t.Ear is { } ear ? Codes.Of(ear) : "both",
            Words: EvaluationWords.Of(t, AudiogramSymbol.Of(t)!.Value))).DistinctBy(k => k.Words);

    /// <summary>What the drawing shows, said.</summary>
    public string Said => string.Join(". ", Detail.Thresholds.Where(t => !t.IsAbr).GroupBy(t => (t.Kind, t.Ear)).Select(g =>
        $"{EvaluationWords.Of(g.Key.Kind, g.Key.Ear)}: "
            + string.Join("; ", g.Select(t => $"{EvaluationWords.Frequency(t.FrequencyHz)} {EvaluationWords.Level(t)}")))) + ". In dB HL.";

    /// <summary>Thresholds by behavior, then those by brainstem response: a table each.</summary>
    public IEnumerable<ThresholdTable> Tables()
    {
        var scale = Detail.AbrScale is { } of ? EvaluationWords.Of(of) : "dB";
        var correction = Detail.AbrCorrection is { } by ? $", corrected by {by}" : "";
        foreach (var (caption, thresholds) in new[]
        {
            ("Thresholds, dB HL", Detail.Thresholds.Where(t => !t.IsAbr).ToList()),
            ($"Thresholds by ABR, {scale}{correction}", Detail.Thresholds.Where(t => t.IsAbr).ToList()),
        })
        {
            if (thresholds.Count == 0) continue;
            var frequencies = thresholds.Select(t => t.FrequencyHz).Distinct().Order().ToList();
            yield return new(caption, frequencies, [.. thresholds.GroupBy(t => (t.Kind, t.Ear)).Select(g =>
                (EvaluationWords.Of(g.Key.Kind, g.Key.Ear), (IReadOnlyList<string>)[.. frequencies.Select(hz =>
                    g.Where(t => t.FrequencyHz == hz).Select(EvaluationWords.Level).FirstOrDefault("\u2014"))]))]);
        }
    }

    /// <summary>The rest of the battery, each test with its words.</summary>
    public IEnumerable<(string Name, string Value)> Tests()
    {
        if (Detail.BehavioralMethod is { } method) yield return ("Behavioral method", EvaluationWords.Of(method));
        if (Detail.AirTransducer is { } transducer) yield return ("Earphones", EvaluationWords.Of(transducer));
        foreach (var ear in Enum.GetValues<Ear>())
        {
            if (Detail.TympanogramOf(ear, high: false) is { } low)
                yield return ($"{TimeLineWords.Ear(ear)}, tympanogram 226 Hz", EvaluationWords.Of(low));
            if (Detail.TympanogramOf(ear, high: true) is { } high)
                yield return ($"{TimeLineWords.Ear(ear)}, tympanogram 1000 Hz", EvaluationWords.Of(high));
            if (Detail.EmissionsOf(ear) is { } emissions)
                yield return ($"{TimeLineWords.Ear(ear)}, otoacoustic emissions", EvaluationWords.Of(emissions)
                    + (Detail.EmissionsMethod is { } by ? $" ({EvaluationWords.Of(by)})" : ""));
        }
    }
}
