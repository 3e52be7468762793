using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Ui;

namespace Registry.SiteQuality.Flags;

/// <summary>One flag: evidence, weeks, what to check first, what people did, and what to do. It shows no infant.</summary>
[Authorize(Permissions.SiteManager)]
public sealed class FlagPageModel(ShowFlag flags, ActOnFlag act, AsOf asOf) : PageModel
{
    [BindProperty] public FlagForm Form { get; set; } = new();

    public ShownFlag Shown { get; private set; } = null!;
    public string Code { get; private set; } = "";

    public async Task<IActionResult> OnGetAsync(string code, Guid id, CancellationToken ct)
    {
        if (await flags.AsOfAsync(code, id, asOf.Date, ct) is not { } shown) return NotFound();
        (Shown, Code) = (shown, code);
        return Page();
    }

    public async Task<IActionResult> OnPostAsync(string code, Guid id, CancellationToken ct)
    {
        var answer = await act.RunAsync(code, id, Form, ct);
        if (answer == FlagAnswer.NoSuchFlag) return NotFound();
        if (answer is FlagAnswer.Done or FlagAnswer.TookBack)
        {
            TempData["Done"] = FlagWords.Of(answer);
            return LocalRedirect($"/sites/{code}/flags/{id}");
        }

        // What was typed stays in the form.
        TempData["Problem"] = FlagWords.Of(answer);
        ModelState.Clear();
        return await OnGetAsync(code, id, ct);
    }
}
