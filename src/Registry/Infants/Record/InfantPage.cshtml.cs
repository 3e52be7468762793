using System.Text.Json;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Screening;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>One infant's record: where the infant stands and why, what is due, and every fact it stands on.</summary>
[ShowsInfants]
public sealed class InfantPageModel(
    RegistryDb db, StatusSource source, PolicyStore policies, RecordContact contact, AsOf asOf, Viewer viewer, AuditReads audit) : PageModel
{
    [FromRoute]
    public Guid Id { get; set; }

    public StatusesAsOf Statuses { get; private set; } = null!;
    public InfantStatusRow? Status { get; private set; }
    public IReadOnlyList<DueLine> Dues { get; private set; } = [];
    public ReportedBirth? Birth { get; private set; }
    public string? RecordNumber { get; private set; }
    public string BirthSite { get; private set; } = "";
    public string ResponsibleSite { get; private set; } = "";
    public IReadOnlyList<TimeLineEntry> TimeLine { get; private set; } = [];

    /// <summary>How a test's outcome stands to its site's own criterion, by the policy in force on the as-of day.</summary>
    public CriterionResult CompareWithCriterion(TimeLineEntry entry) => entry is { Fact: ReportedScreening s, Measured: { } measured }
        ? Rules.Screening.CompareWithCriterion.Compare(
            s.Outcome, measured, PassCriterion.For(_criteria, _siteCodes.GetValueOrDefault(entry.Said.SiteId, ""), s.Instrument, s.Method))
        : default;

    private PassCriterion[] _criteria = [];
    private Dictionary<SiteId, string> _siteCodes = [];

    /// <summary>One line of the due list.</summary>
    public sealed record DueLine(DueStep Step, DateOnly DueOn, string Rule, string Why);

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!await ExistsForViewerAsync(ct)) return NotFound();
        var id = new InfantId(Id);
        Statuses = await source.AsOfAsync(asOf.Date, ct);
        Status = await ReadStatusAsync(ct);
        TimeLine = await Registry.Infants.Record.TimeLine.ReadAsync(db, id, Statuses.KnownAt.ToUniversalTime(), ct);
        if (TimeLine.Any(e => e.Measured is not null))
        {
            _criteria = (await policies.InForceAsync(asOf.Date, ct)).PassCriteria;
            _siteCodes = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id, s => s.Code, ct);
        }

        Birth = TimeLine.Where(e => e.SupersededAt is null).Select(e => e.Fact).OfType<ReportedBirth>().FirstOrDefault();
        RecordNumber = TimeLine.Where(e => e.SupersededAt is null).Select(e => e.Identifier).OfType<InfantIdentifier>()
            .Where(i => i.Kind == IdentifierKind.RecordNumber)
            .OrderByDescending(i => i.SiteId == viewer.SiteId).ThenBy(i => i.RecordedAt).FirstOrDefault()?.Value;
        if (Status is not null)
        {
            Dues = JsonSerializer.Deserialize<List<JsonElement>>(Status.Dues)!.Select(d => new DueLine(
                Codes.Parse<DueStep>(d.GetProperty("step").GetString()), DateOnly.Parse(d.GetProperty("dueOn").GetString()!, null),
                d.GetProperty("rule").GetString()!, d.GetProperty("why").GetString()!)).ToList();
            BirthSite = await SiteAsync(Status.BirthSiteId, ct);
            ResponsibleSite = await SiteAsync(Status.ResponsibleSiteId, ct);
        }

        await audit.OneAsync(id, ct);
        return Page();
    }

    public async Task<IActionResult> OnPostContactAsync([FromForm] ContactForm form, CancellationToken ct)
    {
        if (!await ExistsForViewerAsync(ct)) return NotFound();
        var problem = ModelState.IsValid ? await contact.AddAsync(new(Id), form, viewer, ct)
            : "The contact attempt was not understood. Nothing was recorded.";
        TempData[problem is null ? "Done" : "Problem"] = problem
            ?? "The contact attempt is recorded. It can be taken back in the time line.";
        return LocalRedirect($"/infants/{Id}");
    }

    public async Task<IActionResult> OnPostTakeBackAsync([FromForm] Guid factId, CancellationToken ct)
    {
        if (!await ExistsForViewerAsync(ct)) return NotFound();
        var done = await contact.TakeBackAsync(new(Id), factId, viewer, ct);
        TempData[done ? "Done" : "Problem"] = done
            ? "The contact attempt was taken back. It stays readable in the time line."
            : "This contact attempt cannot be taken back here: it was reported in a submission or belongs to another site.";
        return LocalRedirect($"/infants/{Id}");
    }

    /// <summary>"Sensorineural, moderately severe".</summary>
    public static string Found(EarFinding finding, LossDegree degree) =>
        Words.Of(finding) + (degree == LossDegree.NotStated ? "" : ", " + Words.Of(degree).ToLowerInvariant());

    /// <summary>Another site's infant is answered exactly like one that does not exist.</summary>
    private Task<bool> ExistsForViewerAsync(CancellationToken ct)
    {
        var id = new InfantId(Id);
        return db.VisibleInfants(viewer).AnyAsync(i => i.Id == id, ct);
    }

    private async Task<InfantStatusRow?> ReadStatusAsync(CancellationToken ct)
    {
        var sql = $"select s.* from {Statuses.Relation} s where s.infant_id = @infant";
        return await db.InfantStatuses.FromSqlRaw(sql, new NpgsqlParameter("infant", Id)).AsNoTracking().SingleOrDefaultAsync(ct);
    }

    private async Task<string> SiteAsync(SiteId id, CancellationToken ct) =>
        await db.Sites.Where(s => s.Id == id).Select(s => s.Name).SingleOrDefaultAsync(ct) ?? "";
}
