using System.Runtime.CompilerServices;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>The infants behind a number: a list by filter, and the same list as CSV.</summary>
[ShowsInfants]
public sealed class InfantsModel(
    StatusSource source, ListInfants list, SiteChoices sites, AsOf asOf, Viewer viewer, AuditReads audit) : PageModel
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

    private string SortOrDefault => string.IsNullOrEmpty(Sort) ? "-born" : Sort;

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
        return new CsvResult($"infants-{asOf.Date:yyyy-MM-dd}.csv",
            ["record_number", "born_on", "birth_site", "responsible_site", "screening", "screened", "diagnosed", "enrolled", "hearing",
             "next_step", "next_due_on", "loss", "lost_at", "contact_attempts", "last_contact_on", "as_of", "policy_version"],
            CsvRowsAsync(ct));
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        Filter = InfantFilter.Read(Request.Query);
        Statuses = await source.AsOfAsync(asOf.Date, ct);
        Total = await list.CountAsync(Statuses, Filter, viewer, ct);
    }

    private async IAsyncEnumerable<object?[]> CsvRowsAsync([EnumeratorCancellation] CancellationToken ct)
    {
        await foreach (var r in list.AllAsync(Statuses, Filter, viewer, SortOrDefault, ct))
        {
            yield return
            [
                r.RecordNumber, r.BornOn, r.BirthSite, r.ResponsibleSite, r.Screening, r.Screened, r.Diagnosed, r.Enrolled, r.Hearing,
                r.NextStep, r.NextDueOn, r.Loss, r.LostAt, r.ContactAttempts, r.LastContactOn, Statuses.AsOf, Statuses.PolicyVersion,
            ];
        }
    }
}
