using Registry.Rules.Facts;

namespace Registry.Rules.Screening;

/// <summary>One test of one ear that was tried during the birth admission, with its place among the infant's others.</summary>
/// <param name="Test">Its index in <see cref="InfantFacts.Tests"/>.</param>
/// <param name="AgeHours">Age at the test; null when the time of birth is not known.</param>
/// <param name="Early">Before the policy's earliest age for the method; null when the age is not known.</param>
/// <param name="First">The infant's first attempt at this site.</param>
/// <param name="Decides">The ear's last valid result at this site.</param>
/// <param name="InFirstSession">Of the infant's first session, wherever that was.</param>
/// <param name="FirstValid">The ear's first valid result of the first session.</param>
public readonly record struct Attempt(
    int Test, double? AgeHours, bool? Early, bool First, bool Decides, bool InFirstSession, bool FirstValid);

/// <summary>
/// The attempts of an infant's birth admission, as measures of a site's screening count them: an attempt is one test of one ear with an
/// outcome; "not performed" is none. The first session is the unit of comparison: a rescreen follows a refer, and refers more often.
/// </summary>
public static class DescribeAttempts
{
    /// <returns>In time order; at one moment the refer comes last, as in <see cref="OrderTests"/>.</returns>
    public static IReadOnlyList<Attempt> Of(InfantFacts facts, Policy policy)
    {
        var tests = facts.Tests;
        Span<int> order = tests.Length <= 64 ? stackalloc int[tests.Length] : new int[tests.Length];
        OrderTests.ByTime(tests, order);
        var stay = BirthStay.Of(facts, policy);
        var attempts = new List<int>(tests.Length);
        foreach (var i in order)
        {
            if (tests[i].Outcome != ScreeningOutcome.NotPerformed
                && DeriveStage.Of(tests[i], stay, facts.Birth, policy) == ScreeningStage.BirthAdmission) attempts.Add(i);
        }

        var session = FirstSession(attempts, tests, policy);
        var described = new Attempt[attempts.Count];
        for (var at = 0; at < described.Length; at++)
        {
            var test = tests[attempts[at]];
            var hours = Age.Hours(facts.Birth, test.PerformedAt, policy.Zone);
            described[at] = new(
                attempts[at], hours, hours is { } h ? h < EarliestHours(test.Method, policy) : null,
                First: !Any(attempts, tests, 0, at, test.SiteId, ear: null, valid: false),
                Decides: IsValid(test) && !Any(attempts, tests, at + 1, attempts.Count, test.SiteId, test.Ear, valid: true),
                InFirstSession: session.Contains(at),
                FirstValid: IsValid(test) && session.Contains(at)
                    && !session.Any(s => s < at && tests[attempts[s]].Ear == test.Ear && IsValid(tests[attempts[s]])));
        }

        return described;
    }

    /// <summary>From the first attempt on, those at its site as long as the rules call it one session.</summary>
    private static List<int> FirstSession(List<int> attempts, ScreeningTest[] tests, Policy policy)
    {
        var session = new List<int>(attempts.Count);
        for (var at = 0; at < attempts.Count; at++)
        {
            ref readonly var test = ref tests[attempts[at]];
            if (session.Count > 0)
            {
                ref readonly var first = ref tests[attempts[session[0]]];
                if (test.SiteId != first.SiteId) continue;
                if (Age.Elapsed(first.PerformedAt, test.PerformedAt, policy.Zone).TotalHours > policy.SessionHours
                    && Age.Elapsed(tests[attempts[session[^1]]].PerformedAt, test.PerformedAt, policy.Zone).TotalMinutes
                        > policy.SittingMinutes) break;
            }

            session.Add(at);
        }

        return session;
    }

    private static bool Any(List<int> attempts, ScreeningTest[] tests, int from, int to, Guid? site, Ear? ear, bool valid)
    {
        for (var at = from; at < to; at++)
        {
            ref readonly var test = ref tests[attempts[at]];
            if (test.SiteId == site && (ear is null || test.Ear == ear) && (!valid || IsValid(test))) return true;
        }

        return false;
    }

    private static bool IsValid(in ScreeningTest test) => test.Outcome is ScreeningOutcome.Pass or ScreeningOutcome.Refer;

    private static int EarliestHours(ScreeningMethod method, Policy policy) =>
        method is ScreeningMethod.Aabr or ScreeningMethod.Abr ? policy.EarliestAbrHours : policy.EarliestOaeHours;
}
