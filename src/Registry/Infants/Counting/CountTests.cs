using System.Globalization;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>Where a test is counted: the day that changed it, its own days, and each of its groups. The place of a row of
/// <c>count_changes</c>.</summary>
internal readonly record struct CountPlace(
    SiteId SiteId, DateOnly ChangedOn, DateOnly TestedOn, DateOnly BornOn, string Instrument, string Probe, string Screener, string Method,
    string Age, string Hour, string Received)
{
    /// <summary>Every sum it is part of: what is known now, and what the day changed.</summary>
    public IEnumerable<CountKey> Sums()
    {
        foreach (var grouping in ScreenColumns.Kept)
        {
            foreach (var by in ScreenColumns.Days(grouping))
            {
                var (byDay, byMonth) = ScreenColumns.Sums(grouping, by);
                var key = new CountKey(byDay, grouping, SiteId, Unit(grouping), by == CountedDay.Test ? TestedOn : BornOn, null);
                yield return key;
                yield return key with { ChangedOn = ChangedOn };
                if (byMonth is not { } months) continue;
                key = key with { CountedBy = months, Day = WholeMonths.FirstDay(key.Day) };
                yield return key;
                yield return key with { ChangedOn = ChangedOn };
            }
        }
    }

    private string Unit(ScreenGrouping grouping) => grouping switch
    {
        ScreenGrouping.Instrument => Instrument,
        ScreenGrouping.Probe => Probe,
        ScreenGrouping.Screener => Screener,
        ScreenGrouping.Method => Method,
        ScreenGrouping.Age => Age,
        ScreenGrouping.Hour => Hour,
        ScreenGrouping.Received => Received,
        ScreenGrouping.Arrival => ScreenColumns.Arrival(
            TestedOn, DateOnly.ParseExact(Received.AsSpan(0, 10), "yyyy-MM-dd", CultureInfo.InvariantCulture)),
        _ => "",
    };
}

/// <summary>A row's place in <c>screen_counts</c>.</summary>
internal readonly record struct CountKey(
    SumDay CountedBy, ScreenGrouping Grouping, SiteId SiteId, string Unit, DateOnly Day, DateOnly? ChangedOn);

/// <summary>What tests of many infants add to the counts, day by day.</summary>
internal sealed class CountTests
{
    private static readonly int Figures = ScreenColumns.Figures.Length;
    private static readonly string[] Hours = [.. Enumerable.Range(0, 24).Select(h => h.ToString("00", CultureInfo.InvariantCulture))];

    private readonly Dictionary<CountPlace, int[]> _changes = [];

    /// <summary>What is not nothing.</summary>
    public List<KeyValuePair<CountPlace, int[]>> Changes => [.. _changes.Where(c => c.Value.AsSpan().ContainsAnyExcept(0))];

    /// <summary>Adds all that is counted of one infant, or takes it away: what each day changed, from nothing on.</summary>
    /// <param name="tests">The infant's counted tests of all days.</param>
    /// <param name="sign">1 or -1.</param>
    public void Add(IReadOnlyList<CountedTest> tests, int sign)
    {
        var days = new SortedSet<DateOnly>(tests.Select(t => t.KnownFrom));
        days.UnionWith(tests.Where(t => t.KnownUntil is not null).Select(t => t.KnownUntil!.Value));
        CountedTest[] before = [];
        foreach (var day in days)
        {
            CountedTest[] after = [.. tests.Where(t => t.KnownFrom <= day && !(t.KnownUntil <= day))];
            AddState(before, day, -sign);
            AddState(after, day, sign);
            before = after;
        }
    }

    /// <summary>An infant's tests as they were known at one time. What counts infants and sessions counts where the first test at the site
    /// does.</summary>
    private void AddState(CountedTest[] tests, DateOnly changedOn, int sign)
    {
        foreach (var test in tests)
        {
            var sum = At(Place(test, changedOn));
            void Count(ScreenFigure figure, int count) => sum[(int)figure] += sign * count;

            CountTest(test, Count);
            if (!test.IsFirst) continue;
            var ofSite = Array.FindAll(tests, t => t.SiteId == test.SiteId);
            CountInfant(test, ofSite, Count);
            if (test.InFirstSession) CountSession(ofSite, Count);
        }
    }

    private static void CountTest(CountedTest test, Action<ScreenFigure, int> count)
    {
        count(ScreenFigure.Tests, 1);
        if (test.Outcome == ScreeningOutcome.Refer) count(ScreenFigure.Refers, 1);
        if (test.Outcome == ScreeningOutcome.NoValidResult)
            count(test.Reason switch
            {
                ScreeningReason.NoSeal => ScreenFigure.NoSeal,
                ScreeningReason.Noise => ScreenFigure.Noise,
                _ => ScreenFigure.OtherReason,
            }, 1);
    }

    private static void CountInfant(CountedTest first, CountedTest[] ofSite, Action<ScreenFigure, int> count)
    {
        var deciding = ofSite.Count(t => t.Decides);
        var referred = ofSite.Count(t => t.Decides && t.Outcome == ScreeningOutcome.Refer);
        count(ScreenFigure.Infants, 1);
        count(ScreenFigure.Ears, ofSite.DistinctBy(t => t.Ear).Count());
        count(ScreenFigure.Concluded, deciding > 0 ? 1 : 0);
        count(ScreenFigure.BothEars, deciding > 1 ? 1 : 0);
        count(ScreenFigure.Referred, referred > 0 ? 1 : 0);
        count(ScreenFigure.ReferredBoth, referred > 1 ? 1 : 0);
        count(ScreenFigure.WithAge, first.AgeHours is null ? 0 : 1);
        count(ScreenFigure.Early, first.Early == true ? 1 : 0);
        count(ScreenFigure.FirstDay, first.AgeHours < 24 ? 1 : 0);
    }

    private static void CountSession(CountedTest[] ofSite, Action<ScreenFigure, int> count)
    {
        var valid = ofSite.Count(t => t.IsFirstValid);
        var referred = ofSite.Count(t => t.IsFirstValid && t.Outcome == ScreeningOutcome.Refer);
        count(ScreenFigure.Sessions, valid > 0 ? 1 : 0);
        count(ScreenFigure.SessionBothEars, valid > 1 ? 1 : 0);
        count(ScreenFigure.SessionReferred, referred > 0 ? 1 : 0);
        count(ScreenFigure.SessionReferredBoth, referred > 1 ? 1 : 0);
    }

    private int[] At(CountPlace place) => _changes.TryGetValue(place, out var sum) ? sum : _changes[place] = new int[Figures];

    private static CountPlace Place(CountedTest test, DateOnly changedOn) => new(
        test.SiteId, changedOn, test.TestedOn, test.BornOn, test.Instrument ?? "", test.Probe ?? "", test.Screener ?? "",
        Codes.Of(test.Method), AgeBands.Of(test.AgeHours), Hours[test.PerformedAt.Hour],
        string.Create(CultureInfo.InvariantCulture, $"{test.ReceivedAt:yyyy-MM-dd} {test.Instrument}"));
}
