using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;

namespace Registry.SetUp;

/// <summary>The program states what it is called, where it is and who answers; at set-up and whenever that changes.</summary>
[Authorize(Permissions.Administrator), RequestSizeLimit(64 * 1024)]
public sealed class ProgramPageModel(StateProgram state, ShowProgress progress, IOptions<ProgramOptions> program) : PageModel
{
    /// <summary>Offered first; every other of the IANA list can be typed.</summary>
    public static readonly IReadOnlyList<string> Zones =
    [
        "America/New_York", "America/Chicago", "America/Denver", "America/Phoenix", "America/Los_Angeles", "America/Anchorage",
        "Pacific/Honolulu", "America/Puerto_Rico", "Pacific/Guam", "UTC",
    ];

    public ProgramOptions Stated { get; private set; } = new();

    public void OnGet() => Stated = program.Value;

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (!Request.HasFormContentType) return BadRequest();
        var sent = await Request.ReadFormAsync(ct);
        string Text(string name) => sent[name].ToString().Trim();
        Stated = program.Value with
        {
            Name = Text("name"),
            Region = Text("region"),
            TimeZone = Text("zone"),
            Phone = Text("phone"),
            PrivacyContact = Text("privacy"),
            Languages = [.. StateProgram.Languages.Intersect(sent["languages"].OfType<string>())],
            Counties = [.. Text("counties").Split('\n', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries).Distinct()],
        };
        if (await state.RunAsync(Stated, ct) is { } problem)
        {
            ModelState.AddModelError("", problem);
            return Page();
        }

        TempData["Done"] = SetUpWords.ProgramSaved;
        return LocalRedirect(await progress.NextAsync(ct) ?? "/setup");
    }
}
