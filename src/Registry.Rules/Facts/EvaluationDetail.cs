namespace Registry.Rules.Facts;

/// <summary>How a child showed that it heard.</summary>
public enum BehavioralMethod { Conventional, ConditionedPlay, VisualReinforcement, BehavioralObservation }

/// <summary>What brought the sound to the ear.</summary>
public enum AirTransducer { InsertEarphones, SupraAuralEarphones, CircumauralEarphones }

/// <summary>A tympanogram: types A to C of a 226 Hz probe tone (Jerger 1970), peaked or flat of a 1000 Hz probe tone, which infants need
/// (JCIH 2007).</summary>
public enum Tympanogram { TypeA, TypeAs, TypeAd, TypeB, TypeC, Peaked, Flat, NoValidResult }

/// <summary>Otoacoustic emissions of one ear, as the audiologist judged them.</summary>
public enum Emissions { Present, Reduced, Absent, NoValidResult }

/// <summary>What brainstem thresholds are stated in: dB nHL as measured, or dB eHL, an estimate of hearing level.</summary>
public enum AbrScale { Nhl, Ehl }

/// <summary>What the tests of a diagnostic evaluation gave, beside what was concluded. Null (and no thresholds) is not stated.</summary>
public sealed record EvaluationDetail
{
    public BehavioralMethod? BehavioralMethod { get; init; }
    public AirTransducer? AirTransducer { get; init; }

    /// <summary>With a 226 Hz probe tone (low) and a 1000 Hz probe tone (high).</summary>
    public Tympanogram? RightTympanogramLow { get; init; }
    public Tympanogram? RightTympanogramHigh { get; init; }
    public Tympanogram? LeftTympanogramLow { get; init; }
    public Tympanogram? LeftTympanogramHigh { get; init; }

    public Emissions? RightEmissions { get; init; }
    public Emissions? LeftEmissions { get; init; }
    public ScreeningMethod? EmissionsMethod { get; init; }

    public AbrScale? AbrScale { get; init; }

    /// <summary>By what dB nHL was corrected to dB eHL.</summary>
    public string? AbrCorrection { get; init; }

    /// <summary>In order of kind, ear and frequency, each once.</summary>
    public IReadOnlyList<Threshold> Thresholds
    {
        get;
        init => field = [.. value.OrderBy(t => t.Kind).ThenBy(t => t.Ear).ThenBy(t => t.FrequencyHz)];
    } = [];

    /// <summary>Nothing at all is stated.</summary>
    public bool IsEmpty => this == new EvaluationDetail();

    public Tympanogram? TympanogramOf(Ear ear, bool high) => (ear, high) switch
    {
        (Ear.Right, false) => RightTympanogramLow,
        (Ear.Right, true) => RightTympanogramHigh,
        (_, false) => LeftTympanogramLow,
        _ => LeftTympanogramHigh,
    };

    public Emissions? EmissionsOf(Ear ear) => ear == Ear.Right ? RightEmissions : LeftEmissions;

    public IEnumerable<Threshold> Of(ThresholdKind kind, Ear? ear) => Thresholds.Where(t => t.Kind == kind && t.Ear == ear);

    public bool Equals(EvaluationDetail? other) =>
        other is not null && Single == other.Single && Thresholds.SequenceEqual(other.Thresholds);

    public override int GetHashCode() => HashCode.Combine(Single, Thresholds.Count);

    /// <summary>This detail with what a later statement adds; null when the two contradict each other.</summary>
    public EvaluationDetail? CompletedBy(EvaluationDetail row)
    {
        var thresholds = Thresholds.ToDictionary(Key);
        foreach (var threshold in row.Thresholds)
            if (!thresholds.TryAdd(Key(threshold), threshold) && thresholds[Key(threshold)] != threshold) return null;
        var both = new EvaluationDetail
        {
            BehavioralMethod = BehavioralMethod ?? row.BehavioralMethod,
            AirTransducer = AirTransducer ?? row.AirTransducer,
            RightTympanogramLow = RightTympanogramLow ?? row.RightTympanogramLow,
            RightTympanogramHigh = RightTympanogramHigh ?? row.RightTympanogramHigh,
            LeftTympanogramLow = LeftTympanogramLow ?? row.LeftTympanogramLow,
            LeftTympanogramHigh = LeftTympanogramHigh ?? row.LeftTympanogramHigh,
            RightEmissions = RightEmissions ?? row.RightEmissions,
            LeftEmissions = LeftEmissions ?? row.LeftEmissions,
            EmissionsMethod = EmissionsMethod ?? row.EmissionsMethod,
            AbrScale = AbrScale ?? row.AbrScale,
            AbrCorrection = AbrCorrection ?? row.AbrCorrection,
            Thresholds = [.. thresholds.Values],
        };
        return row.SaysNoOtherThan(both) ? both : null;

        static (ThresholdKind, Ear?, int) Key(Threshold t) => (t.Kind, t.Ear, t.FrequencyHz);
    }

    private bool SaysNoOtherThan(EvaluationDetail both) => Leaves(BehavioralMethod, both.BehavioralMethod)
        && Leaves(AirTransducer, both.AirTransducer) && Leaves(RightTympanogramLow, both.RightTympanogramLow)
        && Leaves(RightTympanogramHigh, both.RightTympanogramHigh) && Leaves(LeftTympanogramLow, both.LeftTympanogramLow)
        && Leaves(LeftTympanogramHigh, both.LeftTympanogramHigh) && Leaves(RightEmissions, both.RightEmissions)
        && Leaves(LeftEmissions, both.LeftEmissions) && Leaves(EmissionsMethod, both.EmissionsMethod)
        && Leaves(AbrScale, both.AbrScale) && Leaves(AbrCorrection, both.AbrCorrection);

    private static bool Leaves<T>(T? row, T? both) => row is null || EqualityComparer<T>.Default.Equals(row, both);

    /// <summary>Everything but the thresholds.</summary>
    private (BehavioralMethod?, AirTransducer?, Tympanogram?, Tympanogram?, Tympanogram?, Tympanogram?, Emissions?, Emissions?,
        ScreeningMethod?, AbrScale?, string?) Single =>
        (BehavioralMethod, AirTransducer, RightTympanogramLow, RightTympanogramHigh, LeftTympanogramLow, LeftTympanogramHigh,
            RightEmissions, LeftEmissions, EmissionsMethod, AbrScale, AbrCorrection);
}
