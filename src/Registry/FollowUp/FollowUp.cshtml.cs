using System.Runtime.CompilerServices;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Record;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Rules;
using Registry.Ui;

namespace Registry.FollowUp;

/// <summary>Whom to call next: overdue, due soon or lost, soonest due first, with a contact attempt recorded from the row.</summary>
[ShowsInfants]
public sealed class FollowUpModel(
    RegistryDb db, StatusSource source, ListInfants list, RecordContact contact, SiteChoices sites, AsOf asOf, Viewer viewer,
    AuditReads audit) : PageModel
{
    public InfantFilter Filter { get; private set; } = new();
    public StatusesAsOf Statuses { get; private set; } = null!;
    public IReadOnlyList<InfantRow> Rows { get; private set; } = [];
    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public long Total { get; private set; }
    public string? Next { get; private set; }

    [FromQuery]
    public string? Sort { get; set; }

    [FromQuery]
    public string? After { get; set; }

    private string SortOrDefault => string.IsNullOrEmpty(Sort) ? "due" : Sort;

    public async Task OnGetAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        Sites = await sites.AllAsync(ct);
        (Rows, Next) = await list.PageAsync(Statuses, Filter, viewer, SortOrDefault, After, ct);
        await audit.ListAsync(Rows.Count, ct);
    }

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        await audit.ListAsync((int)Math.Min(Total, int.MaxValue), ct);
        return new CsvResult($"follow-up-{asOf.Date:yyyy-MM-dd}.csv",
            ["record_number", "born_on", "responsible_site", "next_step", "next_due_on", "days_overdue", "loss", "lost_at",
             "contact_attempts", "last_contact_on", "last_contact", "as_of", "policy_version"],
            CsvRowsAsync(ct));
    }

    public async Task<IActionResult> OnPostAsync([FromForm] Guid infant, [FromForm] ContactForm form, [FromForm] string? returnTo,
        CancellationToken ct)
    {
        var id = new InfantId(infant);
        if (!await db.VisibleInfants(viewer).AnyAsync(i => i.Id == id, ct)) return NotFound();
        var problem = ModelState.IsValid ? await contact.AddAsync(id, form, viewer, ct)
            : "The contact attempt was not understood. Nothing was recorded.";
        TempData[problem is null ? "Done" : "Problem"] = problem
            ?? "The contact attempt is recorded. It can be taken back in the infant's record.";
        return LocalRedirect(Url.IsLocalUrl(returnTo) ? returnTo! : "/follow-up");
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        var asked = InfantFilter.Read(Request.Query);
        Filter = asked.Due is null ? asked with { Due = DueWindow.Overdue } : asked;
        Statuses = await source.AsOfAsync(asOf.Date, ct);
        Total = await list.CountAsync(Statuses, Filter, viewer, ct);
    }

    private async IAsyncEnumerable<object?[]> CsvRowsAsync([EnumeratorCancellation] CancellationToken ct)
    {
        await foreach (var r in list.AllAsync(Statuses, Filter, viewer, SortOrDefault, ct))
        {
            yield return
            [
                r.RecordNumber, r.BornOn, r.ResponsibleSite, r.NextStep, r.NextDueOn, r.DaysOverdue(asOf.Date), r.Loss, r.LostAt,
                r.ContactAttempts, r.LastContactOn, r.LastContact, Statuses.AsOf, Statuses.PolicyVersion,
            ];
        }
    }

    /// <summary>Which step of the path a due step belongs to.</summary>
    public static Rules.Facts.PathStep PathOf(DueStep? step) => step switch
    {
        DueStep.Screen or DueStep.CompleteScreen or DueStep.Rescreen or DueStep.RepeatScreen or null => Rules.Facts.PathStep.Screening,
        DueStep.DiagnosticEvaluation or DueStep.CompleteDiagnosis or DueStep.SurveillanceEvaluation => Rules.Facts.PathStep.Diagnosis,
        _ => Rules.Facts.PathStep.Intervention,
    };
}
