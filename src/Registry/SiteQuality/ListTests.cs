using Microsoft.EntityFrameworkCore;
using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Quality;
using Registry.Rules.Screening;

namespace Registry.SiteQuality;

/// <summary>Which of a site's tests.</summary>
/// <param name="Show">One of <see cref="ListTests.Shows"/>; null: all.</param>
/// <param name="By">How they are grouped, and the one group looked at.</param>
/// <param name="ReceivedOn">Of bursts, only that of this day of receipt.</param>
public sealed record TestsAsked(Period Period, string? Show, ScreenGrouping By, string? Unit, DateOnly? ReceivedOn)
{
    public bool AsksForReceipt => Show is not null && MeasureDelays.Shows.Contains(Show);
}

/// <summary>One attempt as reported.</summary>
/// <param name="Criterion">How the outcome stands to the site's own criterion, where the list asks for that.</param>
/// <param name="Receipt">When word of it came, where the list asks for that.</param>
public sealed record TestLine(
    InfantId InfantId, DateTime PerformedAt, Ear Ear, ScreeningMethod Method, ScreeningOutcome Outcome, ScreeningReason Reason,
    string? Instrument, string? Probe, string? Screener, double? AgeHours, CriterionResult? Criterion, TestReceipt? Receipt);

/// <summary>A part of the list, and how long the whole is.</summary>
/// <param name="Compared">The list compares outcomes with the site's criterion.</param>
public sealed record ListedTests(
    Site Site, StatusesAsOf Statuses, IReadOnlyList<TestLine> Lines, int Tests, int Infants, bool Compared);

/// <summary>Lists the tests behind a number of a site's page; the read is recorded.</summary>
public sealed class ListTests(
    RegistryDb db, ViewerDatabase data, StatusSource statuses, PolicyStore policies, CompareOutcomes compare, MeasureDelays measure,
    AuditReads audit, Viewer viewer)
{
    public const int PageSize = 100;
    private const int ExportLimit = 100_000;

    private static readonly string Sql = EmbeddedSql.Of<ListTests>()
        .Replace("{visible}", Visibility.Where("a.infant_id"), StringComparison.Ordinal);

    /// <summary>What may be asked for, by the name in the URL; <paramref name="compared"/>: also each kind of difference.</summary>
    public static IEnumerable<string> Shows(bool compared) =>
    [
        "all", "referred", "refer", "pass", "no_valid_result", "no_seal", "noise", "early_first",
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
        var screens = new ScreensAsked(
            asked.Period, site.Id, await statuses.AsOfAsync(asOf, ct), await policies.InForceAsync(asOf, ct));
        var compared = ComparedOutcomes.Shows.Any(s => s.Show == asked.Show)
            ? await compare.ForSiteAsync(site, screens, ct) ?? new(new Dictionary<Guid, CriterionResult>()) : null;
        var receipts = asked.AsksForReceipt ? await ReceiptsAsync(screens, asked, ct) : null;
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = screens.Fill(connection.CreateCommand(), Sql, asked.By);
        Visibility.Bind(command, viewer);
        command.Parameters.AddNullable("unit", asked.By == ScreenGrouping.Site ? null : asked.Unit ?? "", NpgsqlDbType.Text);
        command.Parameters.AddWithValue("show", asked.Show ?? "all");
        command.Parameters.AddWithValue("ids", receipts?.Keys.ToArray() ?? compared?.Ids(asked.Show) ?? []);
        command.Parameters.AddWithValue("skip", Math.Max(0, skip));
        command.Parameters.AddWithValue("take", take);
        await using var r = await command.ExecuteReaderAsync(ct);
        var (lines, tests, infants) = (new List<TestLine>(), 0, 0);
        while (await r.ReadAsync(ct))
        {
            (tests, infants) = (r.GetInt32(11), r.GetInt32(12));
            lines.Add(Read(r, compared, receipts));
        }

        return new(site, screens.AsOf, lines, tests, infants, compared is not null);
    }

    private static TestLine Read(NpgsqlDataReader r, ComparedOutcomes? compared, Dictionary<Guid, TestReceipt>? receipts)
    {
        var id = r.GetGuid(0);
        return new(
            new(r.GetGuid(1)), r.GetDateTime(2), r.Code<Ear>(3), r.Code<ScreeningMethod>(4), r.Code<ScreeningOutcome>(5),
            r.Code<ScreeningReason>(6), r.TextOrNull(7), r.TextOrNull(8), r.TextOrNull(9), r.ValueOrNull<double>(10),
            compared?.Tests.TryGetValue(id, out var result) == true ? result : null, receipts?[id]);
    }

    /// <summary>The tests that came late, or in a burst, each with its receipt.</summary>
    private async Task<Dictionary<Guid, TestReceipt>> ReceiptsAsync(ScreensAsked screens, TestsAsked asked, CancellationToken ct)
    {
        var tests = await measure.RunAsync(screens, ct);
        if (asked.By == ScreenGrouping.Instrument) tests = [.. tests.Where(t => t.Instrument == (asked.Unit ?? ""))];
        return MeasureDelays.Behind(tests, asked.Show!, asked.ReceivedOn).ToDictionary(t => t.Id, t => t.Receipt);
    }
}
