using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>What the tests of a diagnostic evaluation gave, beside what was concluded.</summary>
internal readonly ref partial struct ReadFields
{
    /// <summary>Columns that hold thresholds: which way, whose.</summary>
    public static IReadOnlyList<(Field Field, ThresholdKind Kind, Ear? Ear)> ThresholdFields { get; } =
    [
        (Field.RightAir, ThresholdKind.Air, Ear.Right), (Field.LeftAir, ThresholdKind.Air, Ear.Left),
        (Field.RightBone, ThresholdKind.Bone, Ear.Right), (Field.LeftBone, ThresholdKind.Bone, Ear.Left),
        (Field.SoundField, ThresholdKind.SoundField, null),
        (Field.RightAbr, ThresholdKind.AbrAir, Ear.Right), (Field.LeftAbr, ThresholdKind.AbrAir, Ear.Left),
        (Field.RightAbrBone, ThresholdKind.AbrBone, Ear.Right), (Field.LeftAbrBone, ThresholdKind.AbrBone, Ear.Left),
    ];

    public static Field[] OfEvaluationDetail =>
    [
        Field.BehavioralMethod, Field.AirTransducer, Field.RightAir, Field.LeftAir, Field.RightBone, Field.LeftBone, Field.SoundField,
        Field.RightTympanogramLow, Field.RightTympanogramHigh, Field.LeftTympanogramLow, Field.LeftTympanogramHigh, Field.RightEmissions,
        Field.LeftEmissions, Field.EmissionsMethod, Field.RightAbr, Field.LeftAbr, Field.RightAbrBone, Field.LeftAbrBone, Field.AbrScale,
        Field.AbrCorrection,
    ];

    private static readonly Field[] EvaluationFields = OfEvaluationDetail;

    /// <summary>The detail of an evaluation; null when none is stated, which costs a row a look at each.</summary>
    private EvaluationDetail? EvaluationDetail(EarFinding? right, EarFinding? left)
    {
        if (!batch.StatesAny(row, EvaluationFields)) return null;
        var detail = new EvaluationDetail
        {
            BehavioralMethod = Code<BehavioralMethod>(Field.BehavioralMethod),
            AirTransducer = Code<AirTransducer>(Field.AirTransducer),
            RightTympanogramLow = OneOf<Tympanogram>(Field.RightTympanogramLow),
            RightTympanogramHigh = OneOf<Tympanogram>(Field.RightTympanogramHigh),
            LeftTympanogramLow = OneOf<Tympanogram>(Field.LeftTympanogramLow),
            LeftTympanogramHigh = OneOf<Tympanogram>(Field.LeftTympanogramHigh),
            RightEmissions = Code<Emissions>(Field.RightEmissions),
            LeftEmissions = Code<Emissions>(Field.LeftEmissions),
            EmissionsMethod = OneOf<ScreeningMethod>(Field.EmissionsMethod),
            AbrScale = Code<AbrScale>(Field.AbrScale),
            AbrCorrection = String(Field.AbrCorrection, 100),
            Thresholds = Thresholds(),
        };
        RefuseEarNotEvaluated(Ear.Right, right);
        RefuseEarNotEvaluated(Ear.Left, left);
        CheckScale(detail);
        return detail.IsEmpty ? null : detail;
    }

    private List<Threshold> Thresholds()
    {
        var all = new List<Threshold>();
        foreach (var (field, kind, ear) in ThresholdFields)
        {
            var text = batch.Text(row, field);
            if (text.IsEmpty) continue;
            var (thresholds, problem) = Threshold.Read(kind, ear, text);
            if (problem is not null) problems.Add(new(field, problem));
            all.AddRange(thresholds);
        }

        return all;
    }

    /// <summary>A code that the column takes: of the codes its words have not every one fits every column.</summary>
    private T? OneOf<T>(Field field) where T : struct, Enum
    {
        if (Code<T>(field) is not { } value) return null;
        var codes = FieldValues.CodesOf(field);
        if (codes.Contains(Codes.Of(value))) return value;
        problems.Add(new(field, $"unknown code; it is one of: {string.Join(", ", codes)}"));
        return null;
    }

    private void RefuseEarNotEvaluated(Ear ear, EarFinding? finding)
    {
        if (finding != EarFinding.NotEvaluated) return;
        foreach (var field in OfEvaluationDetail)
            if (IsStated(field) && Codes.Of(field).StartsWith(Codes.Of(ear), StringComparison.Ordinal))
                problems.Add(new(field, "does not belong to an ear that was not evaluated"));
    }

    /// <summary>A brainstem threshold is no number without its scale, and an estimate none without how it was made.</summary>
    private void CheckScale(EvaluationDetail detail)
    {
        if (detail.AbrScale is null && detail.Thresholds.Any(t => t.IsAbr) && !IsStated(Field.AbrScale))
            problems.Add(new(Field.AbrScale, "is required with thresholds by brainstem response: nhl or ehl"));
        if (detail.AbrScale == AbrScale.Ehl && !IsStated(Field.AbrCorrection))
            problems.Add(new(Field.AbrCorrection, "is required with ehl: by what dB nHL was corrected"));
        if (detail.AbrScale == AbrScale.Nhl && IsStated(Field.AbrCorrection))
            problems.Add(new(Field.AbrCorrection, "belongs to ehl only"));
    }
}
