using Registry.Rules.Facts;

namespace Registry.Rules.Quality;

/// <summary>Age at the first attempt, in hours; each band ends before the hour it is named after.</summary>
public enum AgeBand { Unknown, Under6, Under12, Under18, Under24, Under30, Under36, Under42, Under48, Under72, Older }

/// <summary>Completed weeks of gestation.</summary>
public enum GestationBand { Unknown, Under34, Under37, Term }

/// <summary>
/// Counts of sessions that are alike, infants' first ones or their rescreens: what every comparison of sites, instruments, probes and
/// screeners is made of. The unit is the infant, not the ear: its first session is its attempts of the birth admission at the site of its
/// very first attempt, within the policy's length of a session. Equipment, screener, hour and method are those of the session's first
/// attempt. Two ears of one infant are alike, and a rescreen is of infants already selected, so neither is counted as one more independent
/// test: the next session after one that referred is counted apart, and compared with other rescreens.
/// </summary>
/// <param name="Site">Its code.</param>
/// <param name="Instrument">Its code within the site; null when not reported. Lent to another site it is another
/// one there.</param>
/// <param name="Probe">Its code within the site; null when not reported.</param>
/// <param name="Screener">The pseudonym within the site; null when not reported.</param>
/// <param name="Day">Local day of the first attempt.</param>
/// <param name="Hour">Local hour of the first attempt, 0 to 23.</param>
/// <param name="Method">Of the first attempt.</param>
/// <param name="Age">At the first attempt.</param>
/// <param name="Nicu">In intensive care at any time before the session.</param>
/// <param name="Gestation">At birth.</param>
/// <param name="Sessions">All of them, valid or not.</param>
/// <param name="Valid">With a first valid result in at least one ear.</param>
/// <param name="Referred">Of the valid: the first valid result of at least one ear is a refer.</param>
/// <param name="NoSeal">Sessions with at least one attempt that ended without a seal.</param>
/// <param name="Noise">Sessions with at least one attempt that ended in noise.</param>
/// <param name="OtherInvalid">Sessions with at least one attempt without a valid result for any other reason.</param>
/// <param name="Rescreens">These are rescreens: of infants whose first session referred, the next session wherever it was.</param>
/// <param name="Early">Before the age the policy asks for with the method; null: only the band of age is known
/// (<see cref="CountMeasure.IsEarly"/>).</param>
public sealed record QualityCell(
    string Site, string? Instrument, string? Probe, string? Screener, DateOnly Day, int Hour,
    ScreeningMethod Method, AgeBand Age, bool Nicu, GestationBand Gestation,
    int Sessions, int Valid, int Referred, int NoSeal, int Noise, int OtherInvalid,
    bool Rescreens = false, bool? Early = null)
{
    private static readonly double[] AgeLimits = [6, 12, 18, 24, 30, 36, 42, 48, 72];

    /// <param name="hours">From birth to the first attempt; null without a birth time.</param>
    public static AgeBand BandOfAge(double? hours)
    {
        if (hours is not { } known) return AgeBand.Unknown;
        var band = 0;
        while (band < AgeLimits.Length && known >= AgeLimits[band]) band++;
        return (AgeBand)(band + 1);
    }

    /// <param name="weeks">Completed weeks of gestation; null when not reported.</param>
    public static GestationBand BandOfGestation(int? weeks) => weeks switch
    {
        null => GestationBand.Unknown,
        < 34 => GestationBand.Under34,
        < 37 => GestationBand.Under37,
        _ => GestationBand.Term,
    };
}
