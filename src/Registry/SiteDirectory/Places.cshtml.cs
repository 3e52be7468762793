using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Ui;

namespace Registry.SiteDirectory;

/// <summary>Every site, clinic and program, and the same as a file that can be read in again.</summary>
[Authorize(Permissions.Administrator)]
public sealed class PlacesModel(ListPlaces list) : PageModel
{
    public IReadOnlyList<Site> Places { get; private set; } = [];

    public string? NameOf(SiteId id) => Places.FirstOrDefault(p => p.Id == id)?.Name;

    public async Task OnGetAsync(CancellationToken ct) => Places = await list.AllAsync(ct);

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        Places = await list.AllAsync(ct);
        return new CsvResult("places.csv", [.. PlaceForm.Columns.Select(c => c.Column)], Places.ToAsyncEnumerable()
            .Select(p => PlaceForm.Of(p, id => Places.FirstOrDefault(o => o.Id == id)?.Code))
            .Select(f => PlaceForm.Columns.Select(c => (object?)c.Of(f)).ToArray()));
    }
}
