namespace Registry.Rules.Quality;

/// <summary>
/// Whether quiet is unusual: of a way of sending by its own gaps, of births and screens by the infants a site has a day. Events that come
/// by themselves at a rate are a Poisson process: none in a time that lets expect e of them has the probability exp(-e).
/// </summary>
public static class JudgeSilence
{
    /// <summary>Days of quiet a rhythm allows.</summary>
    /// <param name="usualGap">The 95th percentile of the gaps between sending days.</param>
    /// <param name="policy">Limits.</param>
    public static int AllowedDays(int usualGap, Policy policy) => Math.Max(policy.SilenceDays, policy.SilenceGaps * usualGap);

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
