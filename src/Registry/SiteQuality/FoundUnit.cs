using System.Globalization;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>Something people did or recorded on a day: a tip changed, a repair.</summary>
public sealed record ChartMark(DateOnly Day, string Words);

/// <summary>A standing problem with the weeks of what it names: the site, or one of its units.</summary>
/// <param name="Weeks">Each named by its Monday, oldest first.</param>
public sealed record FoundUnit(QualityFinding Finding, IReadOnlyList<ScreenCounts> Weeks)
{
    /// <summary>What the finding is of, of some counts. Tests without a valid result are counted test by test here, since a week of one
    /// probe holds few sessions.</summary>
    public Proportion Rate(ScreenCounts counts) => Finding.Measure switch
    {
        SessionMeasure.Referred => counts.FirstRefer,
        SessionMeasure.NoSeal => counts.Of(ScreenFigure.NoSeal),
        SessionMeasure.Noise => counts.Of(ScreenFigure.Noise),
        SessionMeasure.OtherInvalid => counts.Of(ScreenFigure.OtherReason),
        _ => counts.EarlyFirst,
    };

    /// <summary>The list that shows what <see cref="Rate"/> counts.</summary>
    public string Show => Finding.Measure switch
    {
        SessionMeasure.Referred => "first_refer",
        SessionMeasure.NoSeal => "no_seal",
        SessionMeasure.Noise => "noise",
        SessionMeasure.OtherInvalid => "other_reason",
        _ => "early_first",
    };

    /// <summary>What people did about it and recorded of its equipment, in order.</summary>
    public IReadOnlyList<ChartMark> Marks { get; init; } = [];

    /// <summary>After how many of the weeks it began; null when that was before them.</summary>
    public double? OnsetAfter => After(Finding.OnsetOn);

    /// <summary>After how many of the weeks a day is; null when it lies outside them.</summary>
    public double? After(DateOnly day) =>
        Weeks.Count > 0 && (day.DayNumber - Monday(0).DayNumber) / 7.0 is var after && after >= 0 && after < Weeks.Count ? after : null;

    /// <summary>The marks of a week.</summary>
    public IEnumerable<ChartMark> MarksOf(int week) => Marks.Where(m => m.Day >= Monday(week) && m.Day < Monday(week).AddDays(7));

    private DateOnly Monday(int week) => DateOnly.ParseExact(Weeks[week].Unit, "yyyy-MM-dd", CultureInfo.InvariantCulture);
}

/// <summary>Reads the weeks of what is found.</summary>
public sealed class ReadFoundUnits(CountScreens count)
{
    public async Task<IReadOnlyList<FoundUnit>> RunAsync(IReadOnlyList<QualityFinding> findings, ScreensAsked asked, CancellationToken ct)
    {
        var units = new List<FoundUnit>();
        foreach (var finding in findings)
        {
            if (finding.Measure == SessionMeasure.RescreenReferred)
            {
                units.Add(new(finding, [])); // the sums are of the birth admission
                continue;
            }

            var grouping = SiteWords.Grouping(finding.Cause);
            var days = (await count.ByDayAsync(grouping ?? ScreenGrouping.Site, asked, ct))
                .Where(d => grouping is null || d.Counts.Unit == finding.Name).ToLookup(d => Monday(d.Day), d => d.Counts);
            units.Add(new(finding, Weeks(asked.Site ?? default, days)));
        }

        return units;
    }

    /// <summary>Weeks without a test have a place too.</summary>
    private static List<ScreenCounts> Weeks(SiteId site, ILookup<DateOnly, ScreenCounts> days)
    {
        var weeks = new List<ScreenCounts>();
        if (days.Count == 0) return weeks;
        for (var week = days.Min(d => d.Key); week <= days.Max(d => d.Key); week = week.AddDays(7))
            weeks.Add(ScreenCounts.Sum(site, week.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture), days[week]));
        return weeks;
    }

    private static DateOnly Monday(DateOnly day) => day.AddDays(-(((int)day.DayOfWeek + 6) % 7));
}
