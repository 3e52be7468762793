using System.Diagnostics;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Platform;

namespace Registry.Ui;

/// <summary>What went wrong, in words, for browsers. A record of another site is answered as one that does not exist.</summary>
[AllowAnonymous, IgnoreAntiforgeryToken]
public sealed class ProblemModel : PageModel
{
    [FromRoute]
    public int Status { get; set; }

    public string Reference => Activity.Current?.Id ?? HttpContext.TraceIdentifier;

    public string Heading => Refused?.Title ?? ProblemWords.Heading(Status);
    public string Advice => Refused?.Detail ?? ProblemWords.Advice(Status);

    /// <summary>What was asked for was refused for a reason that has its own words.</summary>
    private RequestRefusedException? Refused => HttpContext.Features.Get<IExceptionHandlerFeature>()?.Error as RequestRefusedException;

    public bool IsFault => Refused is null && Status >= 500;

    public IActionResult OnGet() => Answer();

    public IActionResult OnPost() => Answer();

    /// <summary>A page for browsers; problem+json for callers of the API.</summary>
    private IActionResult Answer()
    {
        var asked = HttpContext.Features.Get<IStatusCodeReExecuteFeature>()?.OriginalPath
            ?? HttpContext.Features.Get<IExceptionHandlerPathFeature>()?.Path;
        if (asked is null || !asked.StartsWith("/api/", StringComparison.OrdinalIgnoreCase)) return Page();
        var problem = new ProblemDetails { Status = Status, Title = Heading, Detail = Advice, Extensions = { ["reference"] = Reference } };
        return new ObjectResult(problem) { StatusCode = Status, ContentTypes = { "application/problem+json" } };
    }
}
