using System.Diagnostics;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;

namespace Registry.Ui;

/// <summary>What went wrong, in words, for browsers. A record of another site is answered as one that does not exist.</summary>
[AllowAnonymous, IgnoreAntiforgeryToken]
public sealed class ProblemModel : PageModel
{
    [FromRoute]
    public int Status { get; set; }

    public string Reference => Activity.Current?.Id ?? HttpContext.TraceIdentifier;

    public string Heading => Status switch
    {
        400 => "That could not be understood",
        403 => "Not allowed",
        404 => "Nothing here",
        408 => "That took too long",
        429 => "Too much is being sent at once",
        >= 500 => "Something went wrong here",
        _ => "That did not work",
    };

    public string Advice => Status switch
    {
        400 => "The form may have been open too long. Go back, reload the page and send it again.",
        403 => "Your role does not permit this.",
        404 => "There is no such page, or it belongs to a site that is not yours.",
        408 => "Nothing of it was stored. Send it again, packed with gzip or in parts.",
        429 => "Nothing of it was stored. Wait a moment, go back and send it again.",
        >= 500 => "Nothing you sent was half-done: it was either saved wholly or not at all. Try again; if it repeats, report the "
            + "reference below.",
        _ => "Go back and try again.",
    };

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
