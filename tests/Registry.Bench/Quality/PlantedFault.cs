using Registry.Rules.Quality;

namespace Registry.Bench.Quality;

/// <summary>What can be wrong in an imagined region.</summary>
internal enum FaultKind { DoubledRefers, LeakingProbe, EarlyTests, NoisyRoom, Screener, FourPointsMore, PassesEverything }

/// <summary>One fault at one site from a day on.</summary>
/// <param name="Kind">What.</param>
/// <param name="Site">Where.</param>
/// <param name="From">First day.</param>
internal sealed record PlantedFault(FaultKind Kind, string Site, DateOnly From)
{
    /// <summary>Whether a session is touched; the first instrument, probe or screener is the faulty one.</summary>
    public bool Touches(int instrument, int probe, int screener, bool weekdayDaytime) => Kind switch
    {
        FaultKind.LeakingProbe or FaultKind.PassesEverything => probe == 0,
        FaultKind.FourPointsMore => instrument == 0,
        FaultKind.Screener => screener == 0,
        FaultKind.NoisyRoom => weekdayDaytime,
        _ => true,
    };

    /// <summary>Whole weeks since it began: a leak grows.</summary>
    public int Weeks(DateOnly day) => (day.DayNumber - From.DayNumber) / 7;

    /// <summary>Whether a flag is of it: one of its measures, in its direction. Chance raises others at the same site.</summary>
    public bool ShowsIn(UnitFinding flag) => Kind switch
    {
        FaultKind.PassesEverything => flag is { Measure: SessionMeasure.Referred, Above: false },
        FaultKind.LeakingProbe => flag is { Measure: SessionMeasure.NoSeal or SessionMeasure.Referred, Above: true },
        FaultKind.EarlyTests => flag is { Measure: SessionMeasure.Early or SessionMeasure.Referred, Above: true },
        FaultKind.NoisyRoom => flag is { Measure: SessionMeasure.Noise, Above: true },
        FaultKind.Screener => flag is { Measure: SessionMeasure.Noise or SessionMeasure.Referred, Above: true },
        _ => flag is { Measure: SessionMeasure.Referred, Above: true },
    };

    /// <summary>What a reader should be told to look at first.</summary>
    public bool IsNamedBy(CauseFactor factor) => Kind switch
    {
        FaultKind.LeakingProbe or FaultKind.PassesEverything => factor is { Kind: CauseKind.Probe, Code: "P1" },
        FaultKind.FourPointsMore => factor is { Kind: CauseKind.Instrument, Code: "I1" },
        FaultKind.Screener => factor is { Kind: CauseKind.Screener, Code: "S1" },
        FaultKind.NoisyRoom => factor.Kind is CauseKind.Weekdays or CauseKind.Daytime,
        FaultKind.EarlyTests => factor.Kind == CauseKind.EarlyTests,
        _ => factor.Kind == CauseKind.Site,
    };
}
