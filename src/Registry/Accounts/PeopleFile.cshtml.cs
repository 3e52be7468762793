using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Platform.Csv;
using Registry.Ui;

namespace Registry.Accounts;

/// <summary>Invites the people of a file, after it was tried. All of them, or nobody.</summary>
[Authorize(Permissions.Administrator), RequestSizeLimit(4 * ReadCsv.MostCharacters)]
public sealed class PeopleFileModel(Viewer viewer, InvitePeople invite, ListSessions list, SiteChoices choices) : PageModel
{
    [BindProperty] public string? Text { get; set; }
    [BindProperty] public IFormFile? Sent { get; set; }

    public IReadOnlyList<PersonRow> Rows { get; private set; } = [];
    public IReadOnlyList<MadeLink> Made { get; private set; } = [];

    public void OnGet() { }

    public async Task<IActionResult> OnPostTryAsync(CancellationToken ct)
    {
        if (Sent is { Length: > 0 and <= ReadCsv.MostCharacters } file)
            Text = await new StreamReader(file.OpenReadStream()).ReadToEndAsync(ct);
        if (string.IsNullOrWhiteSpace(Text)) ModelState.AddModelError("", PeopleWords.ChooseFile);
        else await TryAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnPostInviteAsync(CancellationToken ct)
    {
        await TryAsync(ct);
        if (!ModelState.IsValid || Rows.Any(r => r.Problem is not null)) return Page();
        var made = new List<MadeLink>();
        foreach (var row in Rows)
        {
            var (link, problems) = await invite.RunAsync(row.Email, row.Name, row.Role!.Value, row.Site?.Id, viewer.PersonId!.Value,
                $"{Request.Scheme}://{Request.Host}", ct);
            if (link is not null) made.Add(link);
            foreach (var problem in problems) ModelState.AddModelError("", $"{row.Email}: {problem}");
        }

        (Made, Rows, Text) = (made, [], null);
        TempData["Done"] = PeopleWords.Invited(made.Count);
        return Page();
    }

    private async Task TryAsync(CancellationToken ct)
    {
        var known = (await list.PeopleAsync(ct)).Select(p => p.Person.Email!).ToList();
        (Rows, var problem) = InvitePeople.Try(Text ?? "", await choices.AllAsync(ct), known);
        if (problem is not null) ModelState.AddModelError("", problem);
    }
}
