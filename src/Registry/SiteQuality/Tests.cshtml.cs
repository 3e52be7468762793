using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Quality;
using Registry.Rules.Screening;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>One attempt as reported.</summary>
/// <param name="Receipt">When word of it came, where the list asks for that.</param>
/// <param name="Criterion">How the outcome stands to the site's own criterion, where the list asks for that.</param>
public sealed record TestLine(
    InfantId InfantId, DateTime PerformedAt, Ear Ear, ScreeningMethod Method, ScreeningOutcome Outcome, ScreeningReason Reason,
    string? Instrument, string? Probe, string? Screener, double? AgeHours,
    CriterionResult? Criterion, TestReceipt? Receipt);

/// <summary>The tests behind a number of a site page.</summary>
[Authorize(Policy = Permissions.Person)]
[ShowsInfants]
public sealed class TestsModel(
    RegistryDb db, NpgsqlDataSource source, StatusSource statuses, PolicyStore policies, CompareOutcomes compare, MeasureDelays measure,
    AsOf asOf, Viewer viewer, AuditReads audit) : PageModel
{
    private const int PageSize = 100;
    private const int ExportLimit = 100_000;
    private static readonly string Sql = EmbeddedSql.Of<TestsModel>("ListTests");

    [FromQuery(Name = "from")] public string? FromText { get; set; }
    [FromQuery(Name = "to")] public string? ToText { get; set; }
    [FromQuery(Name = "show")] public string? Show { get; set; }
    [FromQuery(Name = "by")] public string? By { get; set; }
    [FromQuery(Name = "unit")] public string? Unit { get; set; }

    /// <summary>Of bursts, only that of this day of receipt.</summary>
    [FromQuery(Name = "received")] public string? Received { get; set; }
    [FromQuery(Name = "page")] public int PageNumber { get; set; } = 1;

    public Site Site { get; private set; } = null!;
    public Period Period { get; private set; }
    public StatusesAsOf Statuses { get; private set; } = null!;
    public IReadOnlyList<TestLine> Lines { get; private set; } = [];
    public int TestCount { get; private set; }
    public int InfantCount { get; private set; }
    public ComparedOutcomes? Compared { get; private set; }
    public bool AsksForReceipt => MeasureDelays.Shows.Any(s => s.Show == Show);
    public bool HasNext => PageNumber * PageSize < TestCount;

    public async Task<IActionResult> OnGetAsync(string code, CancellationToken ct)
    {
        if (!await LoadAsync(code, (PageNumber - 1) * PageSize, PageSize, ct)) return NotFound();
        await audit.ListAsync(Lines.Select(l => l.InfantId).Distinct().Count(), ct);
        return Page();
    }

    public async Task<IActionResult> OnGetCsvAsync(string code, CancellationToken ct)
    {
        if (!await LoadAsync(code, 0, ExportLimit, ct)) return NotFound();
        await audit.ListAsync(InfantCount, ct);
        var csv = new StringBuilder(
            "infant,performed_at,ear,method,outcome,reason,instrument,probe,screener,age_hours,criterion,received_at\r\n");
        foreach (var l in Lines)
        {
            csv.AppendJoin(',', l.InfantId, l.PerformedAt.ToString("yyyy-MM-ddTHH:mm", CultureInfo.InvariantCulture), Codes.Of(l.Ear),
                Codes.Of(l.Method),
                Codes.Of(l.Outcome), Codes.Of(l.Reason), SitesModel.Csv(l.Instrument ?? ""), SitesModel.Csv(l.Probe ?? ""),
                SitesModel.Csv(l.Screener ?? ""),
                l.AgeHours?.ToString("0.0", CultureInfo.InvariantCulture), l.Criterion is { } c ? Codes.Of(c.Finding) : "",
                l.Receipt?.ReceivedAt.ToString("yyyy-MM-ddTHH:mm", CultureInfo.InvariantCulture)).Append("\r\n");
        }

        return File(Encoding.UTF8.GetBytes(csv.ToString()), "text/csv", "tests.csv");
    }

    private async Task<bool> LoadAsync(string code, int skip, int take, CancellationToken ct)
    {
        var site = await db.Sites.AsNoTracking().FirstOrDefaultAsync(s => s.Code == code, ct);
        if (site is null || !viewer.MaySee(site.Id)) return false;
        Site = site;
        PageNumber = Math.Max(1, PageNumber);
        Statuses = await statuses.AsOfAsync(asOf.Date, ct);
        Period = Period.Read(FromText, ToText, asOf.Date);
        var grouping = By == "week" ? ScreenGrouping.Week
            : SiteModel.Breakdowns.Where(b => b.Parameter == By).Select(b => b.Grouping).DefaultIfEmpty(ScreenGrouping.Site).First();
        var policy = await policies.InForceAsync(asOf.Date, ct);
        if (ComparedOutcomes.Shows.Any(s => s.Show == Show))
            Compared = await compare.ForSiteAsync(site, Period.From, Period.To, Statuses, policy, ct)
                ?? new(new Dictionary<Guid, CriterionResult>());
        var receipts = AsksForReceipt ? await BehindAsync(grouping, policy, ct) : null;
        await using var command = source.CreateCommand(Sql
            .Replace("{attempts}", CountScreens.Attempts(grouping), StringComparison.Ordinal)
            .Replace("{visible}", Visibility.Where("a.infant_id"), StringComparison.Ordinal));
        CountScreens.Bind(command, Period.From, Period.To, site.Id, Statuses, policy);
        Visibility.Bind(command, viewer);
        command.Parameters.Add(
            new NpgsqlParameter("unit", NpgsqlDbType.Text) { Value = grouping == ScreenGrouping.Site ? DBNull.Value : Unit ?? "" });
        command.Parameters.AddWithValue("show", Show ?? "all");
        command.Parameters.AddWithValue("ids", receipts?.Keys.ToArray() ?? Compared?.Ids(Show) ?? []);
        command.Parameters.AddWithValue("skip", Math.Max(0, skip));
        command.Parameters.AddWithValue("take", take);
        await using var r = await command.ExecuteReaderAsync(ct);
        var lines = new List<TestLine>();
        while (await r.ReadAsync(ct))
        {
            (TestCount, InfantCount) = (r.GetInt32(11), r.GetInt32(12));
            lines.Add(new TestLine(new InfantId(r.GetGuid(1)), r.GetDateTime(2), Codes.Parse<Ear>(r.GetString(3)),
                Codes.Parse<ScreeningMethod>(r.GetString(4)),
                Codes.Parse<ScreeningOutcome>(r.GetString(5)), Codes.Parse<ScreeningReason>(r.GetString(6)), Text(r, 7), Text(r, 8),
                Text(r, 9),
                r.IsDBNull(10) ? null : r.GetDouble(10), Compared?.Tests.TryGetValue(r.GetGuid(0), out var result) == true ? result : null,
                receipts is null ? null : receipts[r.GetGuid(0)]));
        }

        Lines = lines;
        return true;
    }

    private async Task<Dictionary<Guid, TestReceipt>> BehindAsync(ScreenGrouping grouping, Policy policy, CancellationToken ct)
    {
        var tests = await measure.RunAsync(Period.From, Period.To, Site.Id, Statuses, policy, ct);
        if (grouping == ScreenGrouping.Instrument) tests = [.. tests.Where(t => t.Instrument == (Unit ?? ""))];
        DateOnly? day = DateOnly.TryParseExact(Received, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var received)
            ? received : null;
        return MeasureDelays.Behind(tests, Show!, day).ToDictionary(t => t.Id, t => t.Receipt);
    }

    private static string? Text(NpgsqlDataReader r, int column) => r.IsDBNull(column) ? null : r.GetString(column);
}
