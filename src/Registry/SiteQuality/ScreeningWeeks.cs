using System.Globalization;
using Registry.Rules.Statistics;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>Weeks as a page draws them. Model of <c>_Weeks</c>.</summary>
/// <param name="Days">Of test, or of birth.</param>
/// <param name="Href">Where a week leads, by the list and its Monday.</param>
/// <param name="ReferOnset">Since when a flag says that it refers too often, or too seldom; null without one.</param>
/// <param name="InvalidOnset">The same of tests without a valid result.</param>
public sealed record WeeksShown(
    ScreeningWeeks Weeks, string Days, Func<string, string, string> Href, DateOnly? ReferOnset = null, DateOnly? InvalidOnset = null);

/// <summary>Screening week by week.</summary>
/// <param name="Weeks">Each named by its Monday, oldest first; weeks without a test have a place too.</param>
public sealed record ScreeningWeeks(IReadOnlyList<ScreenCounts> Weeks)
{
    /// <summary>What people did, in order.</summary>
    public IReadOnlyList<ChartMark> Marks { get; init; } = [];

    public static ScreeningWeeks Of(IEnumerable<(ScreenCounts Counts, DateOnly Day)> counted)
    {
        var days = counted.ToLookup(d => Monday(d.Day), d => d.Counts);
        var weeks = new List<ScreenCounts>();
        if (days.Count == 0) return new(weeks);
        for (var week = days.Min(d => d.Key); week <= days.Max(d => d.Key); week = week.AddDays(7))
            weeks.Add(ScreenCounts.Sum(default, week.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture), days[week]));
        return new(weeks);
    }

    public PChart? Chart(Func<ScreenCounts, Proportion> rate) => PChart.Exact([.. Weeks.Select(rate)]);

    /// <summary>After how many of the weeks a day is; null when it lies outside them.</summary>
    public double? After(DateOnly day) =>
        Weeks.Count > 0 && (day.DayNumber - Monday(0).DayNumber) / 7.0 is var after && after >= 0 && after < Weeks.Count ? after : null;

    /// <summary>The days of a week, by its Monday, that lie within some days.</summary>
    public static (DateOnly From, DateOnly To) Days(string monday, Period within)
    {
        var from = DateOnly.ParseExact(monday, "yyyy-MM-dd", CultureInfo.InvariantCulture);
        var to = from.AddDays(6);
        return (from < within.From ? within.From : from, to > within.To ? within.To : to);
    }

    /// <summary>The marks of a week.</summary>
    public IEnumerable<ChartMark> MarksOf(int week) => Marks.Where(m => m.Day >= Monday(week) && m.Day < Monday(week).AddDays(7));

    /// <summary>The weeks as a drawing, with what was done in them.</summary>
    /// <param name="label">For who cannot see it.</param>
    /// <param name="rate">What is drawn.</param>
    /// <param name="href">Where a week leads, by its Monday.</param>
    /// <param name="onset">After how many weeks something began; null: nothing is marked.</param>
    public Drawing? Draw(string label, Func<ScreenCounts, Proportion> rate, Func<string, string> href, double? onset = null) =>
        DrawCharts.Weeks(label, Chart(rate),
            [
                .. Weeks.Index().Select(w => (SiteWords.Tick(Monday(w.Index)),
                    SiteWords.Point($"Week from {Words.Date(Monday(w.Index))}", rate(w.Item)), href(w.Item.Unit))),
            ],
            onset,
            Marks.Where(m => After(m.Day) is not null).Select(m => (After(m.Day)!.Value, SiteWords.Of(m))));

    private DateOnly Monday(int week) => DateOnly.ParseExact(Weeks[week].Unit, "yyyy-MM-dd", CultureInfo.InvariantCulture);

    private static DateOnly Monday(DateOnly day) => day.AddDays(-(((int)day.DayOfWeek + 6) % 7));
}
