using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.AspNetCore.Mvc.Rendering;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.SiteDirectory;

/// <summary>One place: added, changed, closed; what it was before.</summary>
[Authorize(Permissions.Administrator)]
public sealed class EditPlaceModel(ListPlaces list, SavePlace save, IOptions<ProgramOptions> program) : PageModel
{
    private IReadOnlyList<Site> _sites = [];

    public Site? Known { get; private set; }
    public PlaceForm Form { get; private set; } = new();
    public IReadOnlyList<(string Field, string Problem)> Problems { get; private set; } = [];
    public IReadOnlyList<PlaceChange> History { get; private set; } = [];
    public SiteKind? Kind => Codes.TryParse<SiteKind>(Form.Kind, out var kind) ? kind : null;
    public CareLevel? CareLevel => Codes.TryParse<CareLevel>(Form.CareLevel, out var level) ? level : null;

    public IEnumerable<string> Counties =>
        program.Value.Counties.Count > 0 ? program.Value.Counties : _sites.Select(s => s.County).Distinct().Order();

    public IEnumerable<SelectListItem> Continuing =>
        SiteChoices.Options(_sites.Where(s => s.Active && s.Id != Known?.Id), Form.ContinuedBy);

    /// <summary>The name of a place of the history.</summary>
    public string? NameOf(string id) => _sites.FirstOrDefault(s => s.Id.Value.ToString() == id)?.Name;

    public async Task<IActionResult> OnGetAsync(string? code, CancellationToken ct)
    {
        if (!await LoadAsync(code, ct)) return NotFound();
        if (Known is not null) Form = PlaceForm.Of(Known, id => _sites.FirstOrDefault(s => s.Id == id)?.Code);
        return Page();
    }

    public async Task<IActionResult> OnPostAsync(string? code, CancellationToken ct)
    {
        if (!await LoadAsync(code, ct)) return NotFound();
        if (!Request.HasFormContentType) return BadRequest();
        var sent = await Request.ReadFormAsync(ct);
        foreach (var (column, with, _) in PlaceForm.Columns)
            Form = with(Form, string.Join(';', sent[column].Select(v => v?.Trim())));
        Problems = await save.RunAsync(code, Form, ct);
        if (Problems.Count > 0) return Page();
        TempData["Done"] = code is null ? PlaceWords.Added : PlaceWords.Saved;
        return LocalRedirect("/places");
    }

    private async Task<bool> LoadAsync(string? code, CancellationToken ct)
    {
        _sites = await list.AllAsync(ct);
        Known = code is null ? null : _sites.FirstOrDefault(s => s.Code == code);
        if (Known is not null) History = await list.HistoryAsync(Known.Id, ct);
        return code is null || Known is not null;
    }
}
