using Registry.Rules.Facts;

namespace Registry.Rules.Audiology;

/// <summary>What of an evaluation deserves a second look.</summary>
public enum EvaluationDoubt
{
    /// <summary>The stated degree is not the band of the average.</summary>
    DegreeDiffers,

    /// <summary>The stated type is not what air and bone suggest.</summary>
    TypeDiffers,

    /// <summary>Bone conduction is worse than air conduction by more than a test varies.</summary>
    BoneWorseThanAir,

    /// <summary>A wide gap between air and bone, and the other ear was not masked.</summary>
    GapNotMasked,

    /// <summary>Emissions are there and a click gave no response: the pattern of auditory neuropathy, and another finding is
    /// stated.</summary>
    NeuropathyPattern,

    /// <summary>There is a loss and thresholds to tell its degree, and none is stated.</summary>
    DegreeMissing,

    /// <summary>Thresholds by behavior, and not how the child answered.</summary>
    MethodMissing,

    /// <summary>Thresholds by air, and not through which earphones.</summary>
    TransducerMissing,
}

/// <param name="Ear">The ear; null: of the evaluation.</param>
/// <param name="FrequencyHz">The first frequency it is seen at.</param>
public readonly record struct DoubtedEvaluation(EvaluationDoubt Doubt, Ear? Ear, int? FrequencyHz = null)
{
    /// <summary>In words that repeat no value, after the ear.</summary>
    public string Says() => Doubt switch
    {
        EvaluationDoubt.DegreeDiffers => "the degree is not the band the average of the thresholds falls in (Clark 1981)",
        EvaluationDoubt.TypeDiffers => "the type is not what air and bone suggest",
        EvaluationDoubt.BoneWorseThanAir =>
            $"bone conduction is worse than air conduction by more than a test varies, at {FrequencyHz} Hz",
        EvaluationDoubt.GapNotMasked => $"air and bone are wide apart at {FrequencyHz} Hz, and the bone threshold is not masked",
        EvaluationDoubt.NeuropathyPattern =>
            "emissions are present and a click gave no response, the pattern of auditory neuropathy, and the finding is another",
        EvaluationDoubt.DegreeMissing => "the degree is not stated, and the thresholds tell it",
        EvaluationDoubt.MethodMissing => "how the child showed that it heard is not stated",
        _ => "which earphones were used is not stated",
    };
}

/// <summary>
/// What does not fit together in an evaluation. Never a reason to refuse it: the audiologist's judgment stands. Emissions without a
/// brainstem response: JCIH 2007 on neural hearing loss. Limits of gaps: common practice, no source.
/// </summary>
public static class DoubtEvaluation
{
    /// <param name="right">Finding and degree of the right ear.</param>
    /// <param name="left">Of the left ear.</param>
    /// <param name="detail">What the tests gave.</param>
    public static IEnumerable<DoubtedEvaluation> Of(
        (EarFinding Finding, LossDegree Degree) right, (EarFinding Finding, LossDegree Degree) left, EvaluationDetail? detail)
    {
        if (detail is null) yield break;
        foreach (var (ear, stated) in new[] { (Ear.Right, right), (Ear.Left, left) })
            foreach (var doubt in OfEar(ear, stated.Item1, stated.Item2, detail)) yield return doubt;
        var behavioral = detail.Thresholds.Where(t => !t.IsAbr).ToList();
        if (behavioral.Count > 0 && detail.BehavioralMethod is null) yield return new(EvaluationDoubt.MethodMissing, null);
        if (behavioral.Exists(t => t.Kind == ThresholdKind.Air) && detail.AirTransducer is null)
            yield return new(EvaluationDoubt.TransducerMissing, null);
    }

    private static IEnumerable<DoubtedEvaluation> OfEar(Ear ear, EarFinding finding, LossDegree degree, EvaluationDetail detail)
    {
        if (SuggestFinding.Of(detail, ear) is { } suggested)
        {
            var hasDegree = finding is EarFinding.Conductive or EarFinding.Sensorineural or EarFinding.Mixed or EarFinding.LossUndetermined;
            if (hasDegree && degree == LossDegree.NotStated && suggested.Band.Degree != LossDegree.NotStated)
                yield return new(EvaluationDoubt.DegreeMissing, ear);
            else if ((hasDegree || finding == EarFinding.Normal) && !suggested.Fits(degree))
                yield return new(EvaluationDoubt.DegreeDiffers, ear);
            if (hasDegree && finding != EarFinding.LossUndetermined && suggested.Type is { } type && type != finding)
                yield return new(EvaluationDoubt.TypeDiffers, ear);
        }

        var pairs = detail.Of(ThresholdKind.Air, ear).Join(detail.Of(ThresholdKind.Bone, ear), a => a.FrequencyHz, b => b.FrequencyHz,
            (a, b) => (Air: a, Bone: b)).Where(p => !p.Air.NoResponse && !p.Bone.NoResponse).ToList();
        if (pairs.FindIndex(p => p.Bone.LevelDb - p.Air.LevelDb > SuggestFinding.WideGapDb) is >= 0 and var worse)
            yield return new(EvaluationDoubt.BoneWorseThanAir, ear, pairs[worse].Air.FrequencyHz);
        if (pairs.FindIndex(p => p.Air.LevelDb - p.Bone.LevelDb > SuggestFinding.WideGapDb && !p.Bone.Masked) is >= 0 and var open)
            yield return new(EvaluationDoubt.GapNotMasked, ear, pairs[open].Air.FrequencyHz);
        if (detail.EmissionsOf(ear) == Emissions.Present && finding is not (EarFinding.AuditoryNeuropathy or EarFinding.NotEvaluated)
            && detail.Of(ThresholdKind.AbrAir, ear).Any(t => t is { FrequencyHz: Threshold.Click, NoResponse: true }))
            yield return new(EvaluationDoubt.NeuropathyPattern, ear);
    }
}
