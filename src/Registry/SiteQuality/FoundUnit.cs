using Registry.Infants.Counting;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>A standing problem with the weeks of what it names: the site, or one of its units.</summary>
public sealed record FoundUnit(QualityFinding Finding, ScreeningWeeks Weeks)
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

    /// <summary>After how many of the weeks it began; null when that was before them.</summary>
    public double? OnsetAfter => Weeks.After(Finding.Named.OnsetOn);

    /// <summary>What to look at first, and what of it was done since it began.</summary>
    public IReadOnlyList<SortedCheck> Checks => SortChecks.Of(Finding, Weeks.Marks);
}

/// <summary>Reads the weeks of what is found, with what was done about it.</summary>
public sealed class ReadFoundUnits(CountScreens count, NameScreeners names)
{
    /// <param name="findings">Of one site.</param>
    /// <param name="asked">The site, and the days.</param>
    /// <param name="marks">What people did at the site.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<FoundUnit>> RunAsync(
        IReadOnlyList<QualityFinding> findings, ScreensAsked asked, IReadOnlyList<ChartMark> marks, CancellationToken ct)
    {
        var units = new List<FoundUnit>();
        foreach (var finding in findings)
        {
            if (finding.Measure == SessionMeasure.RescreenReferred)
            {
                units.Add(new(names.Of(finding), new([]))); // the sums are of the birth admission
                continue;
            }

            var part = finding.Named.Part;
            var grouping = SiteWords.Grouping(part.Kind);
            var days = (await count.ByDayAsync(grouping ?? ScreenGrouping.Site, asked, ct))
                .Where(d => grouping is null || d.Counts.Unit == part.Code);
            units.Add(new(names.Of(finding), ScreeningWeeks.Of(days) with { Marks = [.. marks.Where(m => m.Concerns(finding))] }));
        }

        return units;
    }
}
