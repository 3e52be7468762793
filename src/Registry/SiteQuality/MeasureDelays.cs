using System.Globalization;
using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>Tests of an instrument, made on one day and received on one.</summary>
/// <param name="Instrument">Empty when it was not reported.</param>
public sealed record ReceivedAtSite(SiteId SiteId, string Instrument, ReceivedTests Tests);

/// <summary>Reads how long results took from test to receipt (<see cref="DescribeDelays"/>): of tests of the birth admission, and of all
/// that a place reports where nobody is born.</summary>
public sealed class MeasureDelays(CountScreens count, ClinicResults clinics)
{
    /// <summary>What a list of tests may be asked to show, by the name in the URL.</summary>
    public static readonly string[] Shows = ["late", "skipped", "burst"];

    /// <summary>Of one site, in the days its results are to be here; of a clinic without the instrument.</summary>
    public async Task<IReadOnlyList<ReceivedAtSite>> RunAsync(ScreensAsked asked, int withinDays, CancellationToken ct)
    {
        List<ReceivedAtSite> ofClinics =
            [.. (await clinics.ByDayAsync(asked, ct)).Select(c => new ReceivedAtSite(c.Site, "", Late(c.Results, withinDays)))];
        var theirs = ofClinics.Select(c => c.SiteId).ToHashSet();
        return
        [
            .. (await count.ByDayAsync(ScreenGrouping.Received, asked with { By = CountedDay.Test }, ct))
                .Where(c => !theirs.Contains(c.Counts.SiteId)).Select(c => Read(c, withinDays)),
            .. ofClinics,
        ];
    }

    /// <summary>Tests of each site that came later than its results are to be here, of all of its tests; and the median of their
    /// days.</summary>
    public async Task<IReadOnlyDictionary<SiteId, (Proportion Late, int? MedianDays)>> ArrivalAsync(
        ScreensAsked asked, Func<SiteId, int> withinDays, CancellationToken ct) =>
        (await count.ByAsync(ScreenGrouping.Arrival, asked with { By = CountedDay.Test }, ct)).GroupBy(c => c.SiteId).ToDictionary(
            g => g.Key,
            g =>
            {
                List<(int Days, int Tests)> days = [.. g.Select(c => (int.Parse(c.Unit, CultureInfo.InvariantCulture), c.Tests))];
                return (new Proportion(days.Where(d => d.Days > withinDays(g.Key)).Sum(d => d.Tests), days.Sum(d => d.Tests)),
                    DescribeDelays.MedianDays(days));
            });

    /// <summary>Within how many days of the test results are to be here: as the site agreed; else the larger of the policy's days and the
    /// usual gap of its own sendings.</summary>
    public static int WithinDays(Site site, SiteRhythm? rhythm, Policy policy) =>
        site.ArrivalDays ?? Math.Max(policy.ArrivalDays, rhythm?.UsualGap ?? 0);

    private static ReceivedAtSite Read((ScreenCounts Counts, DateOnly Day) counted, int withinDays)
    {
        var (counts, day) = counted;
        var tests = new ReceivedTests(
            day, DateOnly.ParseExact(counts.Unit[..10], "yyyy-MM-dd", CultureInfo.InvariantCulture), counts.Tests, Late: 0);
        return new(counts.SiteId, counts.Unit[11..], Late(tests, withinDays));
    }

    private static ReceivedTests Late(ReceivedTests tests, int withinDays) =>
        tests with { Late = tests.Days > withinDays ? tests.Tests : 0 };

    public static DelayFigures Figures(IEnumerable<ReceivedAtSite> tests, IEnumerable<ReceivedAtSite> ofSite, Policy policy) =>
        DescribeDelays.Of([.. tests.Select(t => t.Tests)], Sendings(ofSite), policy);

    /// <summary>The days, of test and of receipt, of skipped tests; of bursts alone, or of one burst.</summary>
    /// <param name="ofSite">All tests of the site.</param>
    /// <param name="instrument">Of one instrument; null: of all.</param>
    /// <param name="burst">Only those that came in a burst.</param>
    /// <param name="received">Only the burst of this day.</param>
    /// <param name="policy">What is kept back, and what a burst.</param>
    public static IReadOnlyList<(DateOnly TestDay, DateOnly ReceivedDay)> SkippedDays(
        IReadOnlyList<ReceivedAtSite> ofSite, string? instrument, bool burst, DateOnly? received, Policy policy)
    {
        var sendings = Sendings(ofSite);
        var skipped = ofSite.Where(t => instrument is null || t.Instrument == instrument).Select(t => t.Tests)
            .Where(t => DescribeDelays.IsSkipped(t, sendings, policy)).ToList();
        if (burst)
        {
            var days = DescribeDelays.Bursts(skipped, policy).Select(b => b.ReceivedOn).Where(d => received is null || d == received)
                .ToHashSet();
            skipped.RemoveAll(t => !days.Contains(t.ReceivedDay));
        }

        return [.. skipped.Select(t => (t.TestDay, t.ReceivedDay)).Distinct()];
    }

    private static DateOnly[] Sendings(IEnumerable<ReceivedAtSite> ofSite) =>
        [.. ofSite.Select(t => t.Tests.ReceivedDay).Distinct().Order()];
}
