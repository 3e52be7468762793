using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Platform.Csv;
using Registry.Ui;

namespace Registry.Accounts;

/// <summary>Invites the people of a file and adds roles to those who are there, after it was tried. All of them, or nobody.</summary>
[Authorize(Permissions.Administrator), RequestSizeLimit(4 * ReadCsv.MostCharacters)]
public sealed class PeopleFileModel(
    Viewer viewer, InvitePeople invite, ManagePeople manage, ListSessions list, SiteChoices choices) : PageModel
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
        var said = PeopleWords.DoFile(Rows);
        var made = new List<MadeLink>();
        foreach (var row in Rows) await DoAsync(row, made, ct);
        (Made, Rows, Text) = (made, [], null);
        if (said.Length > 0) TempData["Done"] = $"{said}.";
        return Page();
    }

    private async Task DoAsync(PersonRow row, List<MadeLink> made, CancellationToken ct)
    {
        IReadOnlyList<string> problems = [];
        if (row.Change == PersonRowChange.Invited)
        {
            (var link, problems) = await invite.RunAsync(row.Email, row.Name, row.Placing!, viewer.PersonId!.Value,
                $"{Request.Scheme}://{Request.Host}", ct);
            if (link is not null) made.Add(link);
        }
        else if (row.Change == PersonRowChange.PlaceAdded)
        {
            // Of somebody known, or of a row before.
            var person = row.Known ?? await list.FindAsync(row.Email, ct);
            if (person is { } id && await manage.AddPlaceAsync(id, row.Placing!, ct) is { } problem) problems = [problem];
        }

        foreach (var problem in problems) ModelState.AddModelError("", $"{row.Email}: {problem}");
    }

    private async Task TryAsync(CancellationToken ct)
    {
        var read = new ReadPeopleFile(await choices.AllAsync(ct), await choices.CountiesAsync(ct), await list.PeopleAsync(ct),
            viewer.PersonId!.Value);
        (Rows, var problem) = read.Run(Text ?? "");
        if (problem is not null) ModelState.AddModelError("", problem);
    }
}
