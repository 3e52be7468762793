using Registry.Rules.Facts;
using static Registry.Rules.Tests.Oracle.KnownFacts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// Section 4: what is noteworthy in the screening. Sources: state programs for attempts and the earliest ABR, Am J Perinatol 2025 for the
/// earliest OAE (the threshold is ours), JCIH 2019 for the single rescreen, JCIH 2007 for OAE alone in the NICU.
/// </summary>
internal static class SlowScreeningFlags
{
    public static StatusFlags Of(KnownFacts known, SlowScreening screening)
    {
        var flags = StatusFlags.None;
        if (Early(known, screening)) flags |= StatusFlags.ScreenedEarly;
        if (TooManyAttempts(known, screening)) flags |= StatusFlags.OverScreened;
        if (screening.Rescreens > known.Policy.MaxRescreens) flags |= StatusFlags.RescreenedTooOften;
        if (screening.OneEarOnly) flags |= StatusFlags.RescreenNotBothEars;
        if (screening.OaeAfterAbr) flags |= StatusFlags.OaeAfterAbrRefer;
        if (screening.Right is not null && TooYoungForAbr(known, screening.RightBy)
            || screening.Left is not null && TooYoungForAbr(known, screening.LeftBy)) flags |= StatusFlags.AbrBeforeReliableAge;
        if (known.LongNicuStay && screening.Passed && OaeOnly(screening)) flags |= StatusFlags.OaeOnlyInNicu;
        return flags;
    }

    private static bool Early(KnownFacts known, SlowScreening screening)
    {
        if (!screening.Used.Any(Valid) || known.All.Birth.Time is not { } time) return false;
        var first = screening.Used.First(Valid);
        var hours = known.Hours(known.Born.ToDateTime(time), first.PerformedAt);
        return hours < (Said.TechnologyOf(first.Method) == "ABR" ? known.Policy.EarliestAbrHours : known.Policy.EarliestOaeHours);
    }

    /// <summary>AABR is reliable from 32 to 34 weeks after the last menstruation.</summary>
    private static bool TooYoungForAbr(KnownFacts known, ScreeningTest? by) =>
        by is { } test && Said.TechnologyOf(test.Method) == "ABR" && known.All.Birth.GestationWeeks is { } weeks
            && weeks + (OnDay(test).DayNumber - known.Born.DayNumber) / 7.0 < known.Policy.AbrReliableWeeks;

    private static bool TooManyAttempts(KnownFacts known, SlowScreening screening) =>
        screening.UsedAtBirth.Where(Valid)
            .GroupBy(t => (t.Ear, Said.TechnologyOf(t.Method))).Any(g => g.Count() > known.Policy.MaxValidAttempts);

    private static bool OaeOnly(SlowScreening screening) =>
        screening.Right == new Said(true, "OAE") && screening.LastAbr(Ear.Right) != ScreeningOutcome.Pass
        || screening.Left == new Said(true, "OAE") && screening.LastAbr(Ear.Left) != ScreeningOutcome.Pass;
}
