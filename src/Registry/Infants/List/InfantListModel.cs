using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Records;
using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>A page that lists infants by a filter read from its URL, and gives the same list as CSV.</summary>
public abstract class InfantListModel(ShowInfants infants, SiteChoices sites, AsOf asOf) : PageModel
{
    public InfantFilter Filter { get; private set; } = new();
    public InfantsPage List { get; private set; } = null!;
    public IReadOnlyList<Site> Sites { get; private set; } = [];

    [FromQuery]
    public string? Sort { get; set; }

    [FromQuery]
    public string? After { get; set; }

    /// <summary>The order when none was asked for.</summary>
    protected abstract string DefaultSort { get; }

    /// <summary>The start of the file's name, and its columns.</summary>
    protected abstract string FileName { get; }
    protected abstract IReadOnlyList<InfantColumn> Columns { get; }

    /// <summary>What the page adds to what was asked for.</summary>
    protected virtual InfantFilter Complete(InfantFilter asked) => asked;

    /// <summary>What the page says beside the infants it shows.</summary>
    protected virtual Task ShownAsync(IReadOnlyList<InfantRow> rows, CancellationToken ct) => Task.CompletedTask;

    private string SortOrDefault => string.IsNullOrEmpty(Sort) ? DefaultSort : Sort;

    public async Task OnGetAsync(CancellationToken ct)
    {
        Filter = Complete(InfantFilter.Read(Request.Query));
        Sites = await sites.AllAsync(ct);
        List = await infants.PageAsync(Filter, SortOrDefault, After, ct);
        await ShownAsync(List.Rows, ct);
    }

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        var rows = await infants.RowsAsync(Complete(InfantFilter.Read(Request.Query)), SortOrDefault, Columns, ct);
        return new CsvResult($"{FileName}-{asOf.Date:yyyy-MM-dd}.csv", [.. Columns.Select(c => c.Name)], rows);
    }
}
