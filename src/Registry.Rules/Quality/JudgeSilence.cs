namespace Registry.Rules.Quality;

/// <summary>
/// Whether quiet is unusual: of a way of sending by its own gaps, of births and screens by the infants a site has a day. Events that come
/// by themselves at a rate are a Poisson process: none in a time that lets expect e of them has the probability exp(-e).
/// </summary>
public static class JudgeSilence
{
    /// <summary>Fewer days with a submission make no rhythm.</summary>
    public const int FewestDays = 4;

    /// <summary>Allowed to who has no rhythm yet; common practice, no source.</summary>
    private const int DaysWithoutRhythm = 30;

    /// <summary>Days of quiet a rhythm allows: never fewer than the site agreed to send within.</summary>
    /// <param name="days">Days with a submission.</param>
    /// <param name="usualGap">The 95th percentile of the gaps between them.</param>
    /// <param name="arrivalDays">Days the site has agreed to send within; null: none.</param>
    /// <param name="policy">Limits.</param>
    /// <returns>Null where there are too few days for a rhythm.</returns>
    public static int? AllowedDays(int days, int? usualGap, int? arrivalDays, Policy policy) => days < FewestDays || usualGap is not { } gap
        ? null : Math.Max(arrivalDays ?? 0, Math.Max(policy.SilenceDays, policy.SilenceGaps * gap));

    /// <summary>Days of quiet allowed to a site that has no rhythm, from its last submission or from the day it was added.</summary>
    public static int AllowedWithoutRhythm(int? arrivalDays) => Math.Max(DaysWithoutRhythm, arrivalDays ?? 0);

    /// <summary>How many infants the quiet days let expect; those of the last days may be on their way still.</summary>
    /// <param name="perDay">Infants a day.</param>
    /// <param name="last">The last day with one.</param>
    /// <param name="today">The day looked at.</param>
    /// <param name="arrivalDays">Days the site has agreed to send within.</param>
    public static double Expected(double perDay, DateOnly last, DateOnly today, int arrivalDays) =>
        perDay * Math.Max(0, today.DayNumber - last.DayNumber - arrivalDays);

    /// <summary>Whether none of so many expected is too unlikely to be chance.</summary>
    public static bool IsSilent(double expected, Policy policy) => Math.Exp(-expected) * policy.SilenceOdds < 1;
}
