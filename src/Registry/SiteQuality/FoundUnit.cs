using System.Globalization;
using Registry.Infants.Counting;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>A standing problem with the weeks of what it names: the site, one of its units, or some of its tests.</summary>
/// <param name="Weeks">By day of test, as the problem is dated.</param>
/// <param name="Period">The days they are of.</param>
public sealed record FoundUnit(QualityFinding Finding, ScreeningWeeks Weeks, Period Period)
{
    /// <summary>What the finding is of, of some counts. Tests without a valid result are counted test by test here, since a week of one
    /// probe holds few sessions.</summary>
    public Proportion Rate(ScreenCounts counts) => Finding.Measure switch
    {
        SessionMeasure.Referred or SessionMeasure.RescreenReferred => counts.FirstRefer,
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
        SessionMeasure.RescreenReferred => "rescreen_refer",
        _ => "early_session",
    };

    /// <summary>The tests behind a week, by its Monday.</summary>
    public string Week(AsOf asOf, string site, string monday)
    {
        var ((from, to), part) = (ScreeningWeeks.Days(monday, Period), Finding.Named.Part);
        var grouping = SiteWords.Grouping(part.Kind);
        return asOf.Link($"/sites/{site}/tests", ("from", from), ("to", to), ("show", Show),
            ("by", grouping), ("unit", grouping is null ? null : part.Code), ("part", SiteWords.Part(Finding.Measure, part.Kind)));
    }

    /// <summary>After how many of the weeks it began; null when that was before them.</summary>
    public double? OnsetAfter => Weeks.After(Finding.Named.OnsetOn);

    /// <summary>What to look at first, and what of it was done since it began.</summary>
    public IReadOnlyList<SortedCheck> Checks => SortChecks.Of(Finding, Weeks.Marks);
}

/// <summary>Reads the weeks of what is found, with what was done about it.</summary>
public sealed class ReadFoundUnits(CountScreens count, ListTests list, ReadMarks together, NameScreeners names)
{
    /// <param name="findings">Of one site.</param>
    /// <param name="asked">The site, and the days.</param>
    /// <param name="marks">What people did at the site.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<FoundUnit>> RunAsync(
        IReadOnlyList<QualityFinding> findings, ScreensAsked asked, IReadOnlyList<ChartMark> marks, CancellationToken ct)
    {
        asked = asked with { By = CountedDay.Test };
        if (findings.Count > 0) marks = await together.WithUsedTogetherAsync(marks, findings[0].SiteId, asked.Period.From, ct);
        var units = new List<FoundUnit>();
        foreach (var finding in findings)
        {
            var weeks = ScreeningWeeks.Of(await DaysAsync(finding, asked, ct)) with { Marks = [.. marks.Where(m => m.Concerns(finding))] };
            units.Add(new(names.Of(finding), weeks, asked.Period));
        }

        return units;
    }

    private async Task<IEnumerable<(ScreenCounts Counts, DateOnly Day)>> DaysAsync(
        QualityFinding finding, ScreensAsked asked, CancellationToken ct)
    {
        // Of these no sums are kept: rescreens, early ones without intensive care, refers of early ones.
        if (finding.Measure == SessionMeasure.RescreenReferred)
            return await ListedAsync(finding, asked, "rescreens", "rescreen_refer", ct);
        if (finding.Measure == SessionMeasure.Early)
            return await ListedAsync(finding, asked, "session_with_age", "early_session", ct);
        var part = finding.Named.Part;
        if (part.Kind == CauseKind.EarlyTests)
            return await ListedAsync(finding, asked, "sessions", "first_refer", ct);
        var grouping = part.Kind is CauseKind.Daytime or CauseKind.NightTime ? ScreenGrouping.Hour
            : SiteWords.Grouping(part.Kind) ?? ScreenGrouping.Site;
        return (await count.ByDayAsync(grouping, asked, ct)).Where(d => part.Kind switch
        {
            CauseKind.Weekdays or CauseKind.Weekends => CauseFactor.IsWeekday(d.Day) == (part.Kind == CauseKind.Weekdays),
            CauseKind.Daytime or CauseKind.NightTime =>
                CauseFactor.IsDaytime(int.Parse(d.Counts.Unit, CultureInfo.InvariantCulture)) == (part.Kind == CauseKind.Daytime),
            _ => grouping == ScreenGrouping.Site || d.Counts.Unit == part.Code,
        });
    }

    /// <summary>Weeks as counts, from the lists that show them.</summary>
    private async Task<IEnumerable<(ScreenCounts Counts, DateOnly Day)>> ListedAsync(
        QualityFinding finding, ScreensAsked asked, string all, string some, CancellationToken ct)
    {
        var (of, figure) = finding.Measure == SessionMeasure.Early
            ? (ScreenFigure.WithAge, ScreenFigure.Early) : (ScreenFigure.Sessions, ScreenFigure.SessionReferred);
        var (part, grouping) = (finding.Named.Part, SiteWords.Grouping(finding.Named.Part.Kind));
        var tests = new TestsAsked(
            asked.Period, CountedDay.Test, all, grouping ?? ScreenGrouping.Site, part.Code, null,
            SiteWords.Part(finding.Measure, part.Kind));
        var weeks = await list.WeeksAsync(tests, asked, ct);
        var counted = await list.WeeksAsync(tests with { Show = some }, asked, ct);
        return weeks.Select(week => (new ScreenCounts(finding.SiteId, "", [.. Enum.GetValues<ScreenFigure>()
            .Select(f => f == of ? week.Value : f == figure ? counted.GetValueOrDefault(week.Key) : 0)]), week.Key));
    }
}
