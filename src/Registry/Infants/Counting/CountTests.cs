using System.Globalization;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Counting;

/// <summary>A row's place in <c>screen_counts</c>.</summary>
internal readonly record struct CountKey(
    CountedDay CountedBy, ScreenGrouping Grouping, SiteId SiteId, string Unit, DateOnly Day, DateOnly? ChangedOn);

/// <summary>Counts of many infants, added up by their place.</summary>
internal sealed class CountTests
{
    private static readonly int Figures = Enum.GetValues<ScreenFigure>().Length;

    private readonly Dictionary<CountKey, int[]> _counts = [];

    /// <summary>What is not nothing.</summary>
    public IReadOnlyCollection<KeyValuePair<CountKey, int[]>> Counts => [.. _counts.Where(c => Array.Exists(c.Value, v => v != 0))];

    /// <summary>Adds all that is counted of one infant, or takes it away: what is known now, and what each day changed.</summary>
    /// <param name="tests">The infant's counted tests of all days.</param>
    /// <param name="sign">1 or -1.</param>
    public void Add(IReadOnlyList<CountedTest> tests, int sign)
    {
        AddState([.. tests.Where(t => t.KnownUntil is null)], null, sign);
        var days = new SortedSet<DateOnly>(tests.Select(t => t.KnownFrom));
        days.UnionWith(tests.Where(t => t.KnownUntil is not null).Select(t => t.KnownUntil!.Value));
        IReadOnlyList<CountedTest> before = [];
        foreach (var day in days)
        {
            CountedTest[] after = [.. tests.Where(t => t.KnownFrom <= day && !(t.KnownUntil <= day))];
            AddState(before, day, -sign);
            AddState(after, day, sign);
            before = after;
        }
    }

    /// <summary>Takes away what is counted already.</summary>
    public void TakeAway(CountKey key, int[] figures) =>
        AddAt(key, -1, [.. figures.Select((count, i) => ((ScreenFigure)i, count))]);

    /// <summary>An infant's tests as they were known at one time.</summary>
    private void AddState(IReadOnlyList<CountedTest> tests, DateOnly? changedOn, int sign)
    {
        foreach (var test in tests)
        {
            Add(test, test.TestedOn, changedOn, sign, Of(test));
            AddAt(new(CountedDay.Test, ScreenGrouping.Received, test.SiteId, ReceivedUnit(test), test.TestedOn, changedOn), sign,
                [(ScreenFigure.Tests, 1), (ScreenFigure.Late, test.IsLate ? 1 : 0)]);
        }

        foreach (var atSite in tests.GroupBy(t => t.SiteId))
        {
            CountedTest[] ofSite = [.. atSite];
            var first = Array.Find(ofSite, t => t.IsFirst)!;
            Add(first, first.FirstOn, changedOn, sign, OfInfant(first, ofSite));
            if (first.InFirstSession) Add(first, first.FirstOn, changedOn, sign, OfSession(ofSite));
        }
    }

    private static (ScreenFigure, int)[] Of(CountedTest test)
    {
        var invalid = test.Outcome == ScreeningOutcome.NoValidResult;
        return
        [
            (ScreenFigure.Tests, 1),
            (ScreenFigure.NoSeal, invalid && test.Reason == ScreeningReason.NoSeal ? 1 : 0),
            (ScreenFigure.Noise, invalid && test.Reason == ScreeningReason.Noise ? 1 : 0),
            (ScreenFigure.OtherReason, invalid && test.Reason is not (ScreeningReason.NoSeal or ScreeningReason.Noise) ? 1 : 0),
            (ScreenFigure.Refers, test.Outcome == ScreeningOutcome.Refer ? 1 : 0),
            (ScreenFigure.Late, test.IsLate ? 1 : 0),
        ];
    }

    private static (ScreenFigure, int)[] OfInfant(CountedTest first, CountedTest[] ofSite)
    {
        var deciding = Array.FindAll(ofSite, t => t.Decides);
        var referred = deciding.Count(t => t.Outcome == ScreeningOutcome.Refer);
        return
        [
            (ScreenFigure.Infants, 1),
            (ScreenFigure.Ears, ofSite.Select(t => t.Ear).Distinct().Count()),
            (ScreenFigure.Concluded, deciding.Length > 0 ? 1 : 0),
            (ScreenFigure.BothEars, deciding.Length > 1 ? 1 : 0),
            (ScreenFigure.Referred, referred > 0 ? 1 : 0),
            (ScreenFigure.ReferredBoth, referred > 1 ? 1 : 0),
            (ScreenFigure.WithAge, first.AgeHours is null ? 0 : 1),
            (ScreenFigure.Early, first.Early == true ? 1 : 0),
            (ScreenFigure.FirstDay, first.AgeHours < 24 ? 1 : 0),
        ];
    }

    private static (ScreenFigure, int)[] OfSession(CountedTest[] ofSite)
    {
        var valid = Array.FindAll(ofSite, t => t.IsFirstValid);
        var referred = valid.Count(t => t.Outcome == ScreeningOutcome.Refer);
        return
        [
            (ScreenFigure.Sessions, valid.Length > 0 ? 1 : 0),
            (ScreenFigure.SessionBothEars, valid.Length > 1 ? 1 : 0),
            (ScreenFigure.SessionReferred, referred > 0 ? 1 : 0),
            (ScreenFigure.SessionReferredBoth, referred > 1 ? 1 : 0),
        ];
    }

    /// <summary>In every group the test belongs to, on the day of the test and on that of the birth.</summary>
    private void Add(CountedTest test, DateOnly day, DateOnly? changedOn, int sign, (ScreenFigure, int)[] counts)
    {
        foreach (var (grouping, unit) in Units(test))
        {
            AddAt(new(CountedDay.Test, grouping, test.SiteId, unit, day, changedOn), sign, counts);
            AddAt(new(CountedDay.Birth, grouping, test.SiteId, unit, test.BornOn, changedOn), sign, counts);
        }
    }

    private void AddAt(CountKey key, int sign, (ScreenFigure Figure, int Count)[] counts)
    {
        if (!_counts.TryGetValue(key, out var sum)) _counts[key] = sum = new int[Figures];
        foreach (var (figure, count) in counts) sum[(int)figure] += sign * count;
    }

    private static IEnumerable<(ScreenGrouping, string)> Units(CountedTest test) =>
    [
        (ScreenGrouping.Site, ""),
        (ScreenGrouping.Instrument, test.Instrument ?? ""),
        (ScreenGrouping.Probe, test.Probe ?? ""),
        (ScreenGrouping.Screener, test.Screener ?? ""),
        (ScreenGrouping.Method, Codes.Of(test.Method)),
        (ScreenGrouping.Age, AgeBands.Of(test.AgeHours)),
        (ScreenGrouping.Hour, test.PerformedAt.ToString("HH", CultureInfo.InvariantCulture)),
    ];

    private static string ReceivedUnit(CountedTest test) =>
        string.Create(CultureInfo.InvariantCulture, $"{test.ReceivedAt:yyyy-MM-dd} {test.Instrument}");
}
