using Registry.Rules.Facts;

namespace Registry.Rules.Audiology;

/// <summary>What thresholds suggest of one ear, for the audiologist to take or leave.</summary>
/// <param name="AverageDb">The pure-tone average of <paramref name="Frequencies"/>.</param>
/// <param name="Frequencies">What it is the average of.</param>
/// <param name="FromAbr">It is of estimates by auditory brainstem response, in dB eHL.</param>
/// <param name="OrWorse">Some had no response: it is at least so much.</param>
/// <param name="Type">The type the gap between air and bone suggests; null without bone thresholds.</param>
/// <param name="GapDb">The average gap; null without bone thresholds.</param>
public sealed record SuggestedFinding(
    decimal AverageDb, IReadOnlyList<int> Frequencies, bool FromAbr, bool OrWorse, EarFinding? Type, decimal? GapDb)
{
    public DegreeBand Band => DegreeBand.Of(AverageDb);

    /// <summary>A degree fits: in the band, or worse where it is only known to be at least so much.</summary>
    public bool Fits(LossDegree degree) => degree == Band.Degree || (OrWorse && degree > Band.Degree);
}

/// <summary>
/// The degree from the average at 500, 1000 and 2000 Hz (Clark 1981), at 500 and 2000 Hz where 1000 was left out; the type from the gap
/// between air and bone (common practice, no source). What was found by behavior goes before what was estimated; dB nHL suggests nothing.
/// </summary>
public static class SuggestFinding
{
    /// <summary>A wider gap is no accident of the test. Common practice, no source.</summary>
    public const int WideGapDb = 10;

    private static readonly int[] Averaged = [500, 1000, 2000];

    /// <returns>Null when the thresholds do not suffice.</returns>
    public static SuggestedFinding? Of(EvaluationDetail detail, Ear ear) =>
        Of(detail, ear, ThresholdKind.Air, ThresholdKind.Bone)
            ?? (detail.AbrScale == AbrScale.Ehl ? Of(detail, ear, ThresholdKind.AbrAir, ThresholdKind.AbrBone) : null);

    private static SuggestedFinding? Of(EvaluationDetail detail, Ear ear, ThresholdKind byAir, ThresholdKind byBone)
    {
        var air = detail.Of(byAir, ear).Where(t => Averaged.Contains(t.FrequencyHz)).ToList();
        if (!air.Exists(t => t.FrequencyHz == 500) || !air.Exists(t => t.FrequencyHz == 2000)) return null;
        var average = (decimal)air.Average(t => t.LevelDb);
        var worse = air.Exists(t => t.NoResponse);
        var pairs = detail.Of(byAir, ear).Join(detail.Of(byBone, ear), a => a.FrequencyHz, b => b.FrequencyHz, (a, b) => (Air: a, Bone: b))
            .Where(p => p.Air is { FrequencyHz: not Threshold.Click, NoResponse: false } && !p.Bone.NoResponse).ToList();
        if (pairs.Count == 0) return new(average, [.. air.Select(t => t.FrequencyHz)], byAir == ThresholdKind.AbrAir, worse, null, null);
        var gap = (decimal)pairs.Average(p => p.Air.LevelDb - p.Bone.LevelDb);
        var bone = (decimal)pairs.Average(p => p.Bone.LevelDb);
        EarFinding? type = (DegreeBand.Of(average).Degree, gap > WideGapDb, DegreeBand.Of(bone).Degree) switch
        {
            (LossDegree.NotStated, false, _) => EarFinding.Normal,
            (_, true, LossDegree.NotStated) => EarFinding.Conductive,
            (_, true, _) => EarFinding.Mixed,
            _ => EarFinding.Sensorineural,
        };
        return new(average, [.. air.Select(t => t.FrequencyHz)], byAir == ThresholdKind.AbrAir, worse, type, gap);
    }
}
