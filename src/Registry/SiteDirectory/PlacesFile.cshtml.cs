using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Platform.Csv;

namespace Registry.SiteDirectory;

/// <summary>Places of a file, after it was tried. All of them, or none.</summary>
[Authorize(Permissions.Administrator), RequestSizeLimit(4 * ReadCsv.MostCharacters)]
public sealed class PlacesFileModel(SavePlace save) : PageModel
{
    [BindProperty] public string? Text { get; set; }
    [BindProperty] public IFormFile? Sent { get; set; }

    public IReadOnlyList<PlaceRow> Rows { get; private set; } = [];

    public void OnGet() { }

    public async Task<IActionResult> OnPostTryAsync(CancellationToken ct)
    {
        if (Sent is { Length: > 0 and <= ReadCsv.MostCharacters } file)
            Text = await new StreamReader(file.OpenReadStream()).ReadToEndAsync(ct);
        if (string.IsNullOrWhiteSpace(Text)) ModelState.AddModelError("", PlaceWords.ChooseFile);
        else Show(await save.TryAsync(Text, ct));
        return Page();
    }

    public async Task<IActionResult> OnPostSaveAsync(CancellationToken ct)
    {
        Show(await save.AllAsync(Text ?? "", ct));
        if (!ModelState.IsValid || Rows.Any(r => r.Problems.Count > 0)) return Page();
        TempData["Done"] = PlaceWords.Done(Rows.Count(r => r.IsNew), Rows.Count(r => !r.IsNew));
        return LocalRedirect("/places");
    }

    private void Show((IReadOnlyList<PlaceRow> Rows, string? Problem) read)
    {
        (Rows, var problem) = read;
        if (problem is not null) ModelState.AddModelError("", problem);
    }
}
