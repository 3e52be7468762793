using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>The infants behind a number: a list by the filter of its URL, and the same list as CSV.</summary>
[ShowsInfants]
public sealed class InfantsModel(ShowInfants infants, SiteChoices sites, KeepViews keep, AsOf asOf) : PageModel
{
    private const string DefaultSort = "-born";

    /// <summary>Says something, so that no saved view is opened instead.</summary>
    public const string Unfiltered = $"/infants?sort={DefaultSort}";

    private static readonly IReadOnlyList<InfantColumn> Columns = InfantColumn.Named(
        "record_number", "born_on", "birth_site", "responsible_site", "screening", "screened", "diagnosed", "enrolled", "hearing",
        "next_step", "next_due_on", "loss", "lost_at", "contact_attempts", "last_contact_on", "as_of", "policy_version");

    public InfantFilter Filter { get; private set; } = new();
    public InfantsPage List { get; private set; } = null!;
    public IReadOnlyList<Site> Sites { get; private set; } = [];

    /// <summary>Filters saved by the viewer or for the viewer's office.</summary>
    public ViewStrip Views { get; private set; } = null!;

    [FromQuery]
    public string? Sort { get; set; }

    [FromQuery]
    public string? After { get; set; }

    /// <summary>"all": all that match are counted, however many.</summary>
    [FromQuery]
    public string? Count { get; set; }

    /// <summary>The saved view that is asked for, or whose filter is shown.</summary>
    [FromQuery]
    public Guid? View { get; set; }

    private string SortOrDefault => string.IsNullOrEmpty(Sort) ? DefaultSort : Sort;

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        Filter = InfantFilter.Read(Request.Query);
        var views = await keep.AllAsync(ViewedList.Infants, ct);
        Views = new("/infants", views, Filter.ToQuery(), View);
        // Opened by its id, or by nothing at all; its own address names the filter too.
        if (Request.Query.Keys.All(k => k is "view" or "asOf")
            && ViewStrip.Opened(views, View, Request.Query) is { Filter.Length: > 0 } view)
            return LocalRedirect($"/infants?{view.Filter}&view={view.Id}{(asOf.IsToday ? "" : $"&asOf={asOf.Date:yyyy-MM-dd}")}");
        Sites = await sites.AllAsync(ct);
        List = await infants.PageAsync(Filter, SortOrDefault, After, Count == "all", ct);
        return Page();
    }

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        var rows = await infants.RowsAsync(InfantFilter.Read(Request.Query), SortOrDefault, Columns, ct);
        return new CsvResult($"infants-{asOf.Date:yyyy-MM-dd}.csv", [.. Columns.Select(c => c.Name)], rows);
    }
}
