using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Quality;
using Registry.Rules.Screening;

namespace Registry.SiteQuality;

/// <summary>Which of a site's tests.</summary>
/// <param name="Show">One of <see cref="ListTests.Shows"/>; null: all.</param>
/// <param name="Days">Days of test, or of birth.</param>
/// <param name="By">How they are grouped, and the one group looked at.</param>
/// <param name="ReceivedOn">Of bursts, only that of this day of receipt.</param>
/// <param name="Part">Of weekdays, by night, early: one of <see cref="TestsSql.Parts"/>; null: all.</param>
public sealed record TestsAsked(
    Period Period, CountedDay Days, string? Show, ScreenGrouping By, string? Unit, DateOnly? ReceivedOn, CauseKind? Part = null);

/// <summary>One attempt as reported; without ear, method and outcome an evaluation, which only the lists of clinics have.</summary>
/// <param name="Criterion">How the outcome stands to the site's own criterion, where the list asks for that.</param>
/// <param name="ReceivedAt">When word of it came.</param>
public sealed record TestLine(
    InfantId InfantId, DateTime PerformedAt, Ear? Ear, ScreeningMethod? Method, ScreeningOutcome? Outcome, ScreeningReason Reason,
    string? Instrument, string? Probe, string? Screener, double? AgeHours, CriterionResult? Criterion, DateTime ReceivedAt);

/// <summary>A part of the list, and how long the whole is.</summary>
/// <param name="Compared">The list compares outcomes with the site's criterion.</param>
public sealed record ListedTests(
    Site Site, DateOnly AsOf, string PolicyVersion, IReadOnlyList<TestLine> Lines, int Tests, int Infants, bool Compared);

/// <summary>Lists the tests behind a number of a site's page; the read is recorded.</summary>
public sealed class ListTests(
    RegistryDb db, ViewerDatabase data, AskScreens ask, CompareOutcomes compare, MeasureDelays measure, SilentSites silent,
    NameScreeners names, AuditReads audit, ProgramClock clock, Viewer viewer)
{
    public const int PageSize = 100;
    private const int ExportLimit = 100_000;

    /// <summary>What may be asked for of a site, by the name in the URL; <paramref name="compared"/>: also each kind of
    /// difference.</summary>
    public static IEnumerable<string> Shows(Site site, bool compared) =>
    [
        .. site.Kind.HasBirths() ? [] : new[] { ClinicResults.All },
        "all", "refer", "pass", "no_valid_result", "no_seal", "noise", "other_reason", .. TestsSql.OfInfants, .. TestsSql.Rescreens,
        .. ComparedOutcomes.Shows.Select(s => s.Show).Where(show => compared || show == "differs"), .. MeasureDelays.Shows,
    ];

    /// <param name="code">The site's.</param>
    /// <param name="asked">Which tests.</param>
    /// <param name="page">From 1.</param>
    /// <param name="asOf">The day.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Null for a site the viewer may not see, as for one that does not exist.</returns>
    public async Task<ListedTests?> PageAsync(string code, TestsAsked asked, int page, DateOnly asOf, CancellationToken ct)
    {
        var listed = await ReadAsync(code, asked, (page - 1) * PageSize, PageSize, asOf, ct);
        if (listed is not null) await audit.ListAsync(listed.Lines.Select(l => l.InfantId), ct);
        return listed;
    }

    /// <summary>All of them, to take away.</summary>
    public async Task<ListedTests?> AllAsync(string code, TestsAsked asked, DateOnly asOf, CancellationToken ct)
    {
        var listed = await ReadAsync(code, asked, 0, ExportLimit, asOf, ct);
        if (listed is not null) await audit.ListAsync(listed.Lines.Select(l => l.InfantId), ct);
        return listed;
    }

    private async Task<ListedTests?> ReadAsync(string code, TestsAsked asked, int skip, int take, DateOnly asOf, CancellationToken ct)
    {
        var site = await db.Sites.AsNoTracking().FirstOrDefaultAsync(s => s.Code == code, ct);
        if (site is null || !viewer.MaySee(site.Id)) return null;
        var screens = await ask.AsOfAsync(asked.Period, asked.Days, site.Id, asOf, ct);
        if (asked is { By: ScreenGrouping.Screener, Unit: { } shown })
            asked = asked with { Unit = await names.BehindAsync(shown, screens, ct) };
        var compared = ComparedOutcomes.Shows.Any(s => s.Show == asked.Show)
            ? await compare.ForSiteAsync(site, screens, ct) ?? new(new Dictionary<Guid, CriterionResult>()) : null;
        var within = asked.Show is "late" or "skipped" or "burst" ? MeasureDelays.WithinDays(
            site, (await silent.RhythmsAsync(asOf, ct)).FirstOrDefault(r => r.Id == site.Id), screens.Policy) : 0;
        var skipped = await SkippedAsync(screens, asked, within, ct);
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = ClinicResults.Lists(site, asked.Show)
            ? TestsSql.OfClinic(connection, asked, screens, clock, viewer)
            : TestsSql.Command(connection, asked, screens, clock, viewer);
        Bind(command, within, compared?.Ids(asked.Show) ?? [], skipped);
        command.Parameters.AddWithValue("skip", Math.Max(0, skip));
        command.Parameters.AddWithValue("take", take);
        await using var r = await command.ExecuteReaderAsync(ct);
        var (lines, tests, infants) = (new List<TestLine>(), 0, 0);
        while (await r.ReadAsync(ct))
        {
            (tests, infants) = (r.GetInt32(12), r.GetInt32(13));
            lines.Add(Read(r, site.Id, compared));
        }

        return new(site, asOf, screens.Policy.Version, lines, tests, infants, compared is not null);
    }

    /// <summary>How many infants the list has of each week, by its Monday: counts, of which no infant is read.</summary>
    /// <param name="asked">What may be asked of a flag; a screener by the reported name.</param>
    /// <param name="screens">The site, and the days.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyDictionary<DateOnly, int>> WeeksAsync(TestsAsked asked, ScreensAsked screens, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = TestsSql.Command(connection, asked, screens, clock, viewer, weeks: true);
        Bind(command, 0, [], []);
        await using var r = await command.ExecuteReaderAsync(ct);
        var weeks = new Dictionary<DateOnly, int>();
        while (await r.ReadAsync(ct)) weeks.Add(r.Date(0), r.GetInt32(1));
        return weeks;
    }

    private static void Bind(
        NpgsqlCommand command, int withinDays, Guid[] ids, IReadOnlyList<(DateOnly TestDay, DateOnly ReceivedDay)> skipped)
    {
        command.Parameters.AddWithValue("within_days", withinDays);
        command.Parameters.AddWithValue("ids", ids);
        command.Parameters.AddWithValue("tested", skipped.Select(d => d.TestDay).ToArray());
        command.Parameters.AddWithValue("received", skipped.Select(d => d.ReceivedDay).ToArray());
    }

    private TestLine Read(NpgsqlDataReader r, SiteId site, ComparedOutcomes? compared)
    {
        var id = r.GetGuid(0);
        return new(
            new(r.GetGuid(1)), r.GetDateTime(2), r.CodeOrNull<Ear>(3), r.CodeOrNull<ScreeningMethod>(4), r.CodeOrNull<ScreeningOutcome>(5),
            r.Code<ScreeningReason>(6), r.TextOrNull(7), r.TextOrNull(8), r.TextOrNull(9) is { } by ? names.Of(site, by) : null,
            r.ValueOrNull<double>(10),
            compared?.Tests.TryGetValue(id, out var result) == true ? result : null, r.GetDateTime(11));
    }

    /// <summary>The days of the tests that the site's sendings passed by, or that came in a burst.</summary>
    private async Task<IReadOnlyList<(DateOnly TestDay, DateOnly ReceivedDay)>> SkippedAsync(
        ScreensAsked screens, TestsAsked asked, int withinDays, CancellationToken ct) => asked.Show is "skipped" or "burst"
        ? MeasureDelays.SkippedDays(await measure.RunAsync(screens, withinDays, ct),
            asked.By == ScreenGrouping.Instrument ? asked.Unit ?? "" : null, asked.Show == "burst", asked.ReceivedOn, screens.Policy)
        : [];
}
