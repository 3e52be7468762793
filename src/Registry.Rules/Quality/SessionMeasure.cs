using Registry.Rules.Facts;

namespace Registry.Rules.Quality;

/// <summary>What can be unusual about sessions. Each has its own case mix.</summary>
public enum SessionMeasure
{
    /// <summary>A refer in at least one ear, of sessions with a valid result.</summary>
    Referred,

    /// <summary>An attempt without a seal, of all sessions.</summary>
    NoSeal,

    /// <summary>An attempt that ended in noise, of all sessions.</summary>
    Noise,

    /// <summary>An attempt without a valid result for another reason, of all sessions.</summary>
    OtherInvalid,

    /// <summary>Tested before the age the policy asks for, of sessions at a known age of infants not in intensive care.</summary>
    Early,

    /// <summary>A refer in at least one ear, of rescreens with a valid result. All others are of first sessions.</summary>
    RescreenReferred,
}

/// <summary>Counts a measure in a cell.</summary>
public static class CountMeasure
{
    public static readonly IReadOnlyList<SessionMeasure> All = Enum.GetValues<SessionMeasure>();

    /// <returns>Infants at risk of it and infants with it; both 0 where the measure does not apply.</returns>
    public static (int Trials, int Events) In(QualityCell cell, SessionMeasure measure, Policy policy) => measure switch
    {
        _ when cell.Rescreens => measure == SessionMeasure.RescreenReferred ? (cell.Valid, cell.Referred) : (0, 0),
        SessionMeasure.RescreenReferred => (0, 0),
        SessionMeasure.Referred => (cell.Valid, cell.Referred),
        SessionMeasure.NoSeal => (cell.Sessions, cell.NoSeal),
        SessionMeasure.Noise => (cell.Sessions, cell.Noise),
        SessionMeasure.OtherInvalid => (cell.Sessions, cell.OtherInvalid),
        _ => cell.Nicu || cell.Age == AgeBand.Unknown ? (0, 0) : (cell.Sessions, IsEarly(cell, policy) ? cell.Sessions : 0),
    };

    /// <summary>Before the age the policy asks for with the method. Where only a band of age is known it is early when it is wholly before
    /// it: bands end every six hours.</summary>
    public static bool IsEarly(QualityCell cell, Policy policy)
    {
        if (cell.Early is { } early) return early;
        var brainstem = cell.Method is ScreeningMethod.Aabr or ScreeningMethod.Abr;
        var hours = brainstem ? policy.EarliestAbrHours : policy.EarliestOaeHours;
        return cell.Age is >= AgeBand.Under6 and <= AgeBand.Under48 && (int)cell.Age * 6 <= hours;
    }
}
