using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Screening;

namespace Registry.Infants.Counting;

/// <summary>
/// Goes through the days on which something about an infant became known and says at the end of each how its tests counted: the rules
/// decide, under the policy in force on that day. What comes out depends on the facts and policies alone, not on when it is run.
/// </summary>
internal static class ReplayTests
{
    /// <param name="told">One infant.</param>
    /// <param name="policies">Oldest first; never empty.</param>
    /// <param name="today">Policies of later days do not count yet.</param>
    public static IReadOnlyList<CountedTest> Of(ToldFacts told, IReadOnlyList<Policy> policies, DateOnly today)
    {
        var zone = policies[0].Zone;
        var open = new Dictionary<Guid, CountedTest>();
        var closed = new List<CountedTest>();
        foreach (var day in Days(told, policies, zone, today))
        {
            var policy = policies.LastOrDefault(p => p.EffectiveFrom <= day) ?? policies[0];
            var known = KnownOn(told, day, policy).ToDictionary(t => t.ScreeningId);
            foreach (var (id, before) in open.ToArray())
            {
                if (known.TryGetValue(id, out var now) && now with { KnownFrom = before.KnownFrom } == before) continue;
                closed.Add(before with { KnownUntil = day });
                open.Remove(id);
            }

            foreach (var (id, now) in known) open.TryAdd(id, now);
        }

        return [.. closed, .. open.Values];
    }

    /// <summary>The first day at whose end a moment had passed; a moment at midnight belongs to the day that ends.</summary>
    public static DateOnly DayOf(DateTimeOffset moment, TimeZoneInfo zone) =>
        DateOnly.FromDateTime(TimeZoneInfo.ConvertTime(moment.AddTicks(-1), zone).DateTime);

    private static SortedSet<DateOnly> Days(ToldFacts told, IReadOnlyList<Policy> policies, TimeZoneInfo zone, DateOnly today)
    {
        var days = new SortedSet<DateOnly>(told.Moments().Select(m => DayOf(m, zone)));
        if (days.Count == 0) return days;
        var first = days.Min;
        for (var i = 1; i < policies.Count; i++)
        {
            if (policies[i].EffectiveFrom > first && policies[i].EffectiveFrom <= today && CountDifferently(policies[i - 1], policies[i]))
                days.Add(policies[i].EffectiveFrom);
        }

        return days;
    }

    private static bool CountDifferently(Policy a, Policy b) => Counted(a) != Counted(b);

    /// <summary>What <see cref="DescribeAttempts"/> asks of a policy.</summary>
    private static (bool, int, int, int, int, int, int) Counted(Policy p) =>
        (p.TrustReportedStage, p.BirthAdmissionHours, p.InpatientDays, p.SessionHours, p.SittingMinutes, p.EarliestOaeHours,
            p.EarliestAbrHours);

    private static IEnumerable<CountedTest> KnownOn(ToldFacts told, DateOnly day, Policy policy)
    {
        bool Holds(Held held) => DayOf(held.RecordedAt, policy.Zone) <= day
            && !(held.SupersededAt is { } until && DayOf(until, policy.Zone) <= day);

        if (!told.Births.Exists(b => Holds(b.Held))) return [];
        var tests = told.Tests.FindAll(t => Holds(t.Held));
        var facts = new InfantFacts
        {
            Birth = told.Births.FindLast(b => Holds(b.Held)).Birth,
            Tests = [.. tests.Select(t => t.Test)],
            Transfers = [.. told.Transfers.Where(t => Holds(t.Held)).Select(t => t.Transfer)],
        };
        var attempts = DescribeAttempts.Of(facts, policy);
        var firsts = attempts.Where(a => a.First).ToDictionary(a => tests[a.Test].SiteId, a => facts.Tests[a.Test].PerformedAt);
        return attempts.Select(a => Counted(told, tests[a.Test], a, facts.Birth, firsts[tests[a.Test].SiteId], day, policy.Zone));
    }

    private static CountedTest Counted(
        ToldFacts told, ToldTest test, Attempt attempt, in Birth birth, DateTime first, DateOnly day, TimeZoneInfo zone) => new()
        {
            ScreeningId = test.Id,
            InfantId = told.Infant,
            SiteId = test.SiteId,
            KnownFrom = day,
            KnownUntil = null,
            BornOn = birth.Date,
            FirstOn = DateOnly.FromDateTime(first),
            Ear = test.Test.Ear,
            Method = test.Test.Method,
            Outcome = test.Test.Outcome,
            Reason = test.Test.Reason,
            PerformedAt = test.Test.PerformedAt,
            Instrument = test.Instrument,
            Probe = test.Probe,
            Screener = test.Screener,
            AgeHours = attempt.AgeHours,
            Early = attempt.Early,
            InNicu = birth.NicuAdmittedOn <= DateOnly.FromDateTime(test.Test.PerformedAt),
            GestationWeeks = birth.GestationWeeks,
            ReceivedAt = TimeZoneInfo.ConvertTime(FirstWord(told, test, day, zone), zone).DateTime,
            IsFirst = attempt.First,
            Decides = attempt.Decides,
            InFirstSession = attempt.InFirstSession,
            IsFirstValid = attempt.FirstValid,
        };

    /// <summary>A correction states a test anew and comes later: what counts is the first time the site stated this ear at this time, also
    /// when that statement was closed since.</summary>
    private static DateTimeOffset FirstWord(ToldFacts told, ToldTest test, DateOnly day, TimeZoneInfo zone) => told.Tests
        .Where(t => t.SiteId == test.SiteId && t.Test.Ear == test.Test.Ear && t.Test.PerformedAt == test.Test.PerformedAt
            && DayOf(t.Held.RecordedAt, zone) <= day)
        .Min(t => t.ReceivedAt);
}
