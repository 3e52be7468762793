using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Rules.Linkage;

namespace Registry.Infants.Find;

/// <summary>Finds infants by what somebody knows of them. What is typed is sent in the body: it stands in no URL, no log and no entry of
/// the trail; the infants that were shown do.</summary>
[ShowsInfants]
public sealed class FindModel(FindInfants find, LimitSearches limit, AuditReads audit, Viewer viewer) : PageModel
{
    private const int Longest = 100;

    /// <summary>Null before anything was searched for.</summary>
    public FoundInfants? Found { get; private set; }
    public string? Problem { get; private set; }

    public Task OnGetAsync(CancellationToken ct) => audit.ListAsync([], ct);

    public async Task OnPostAsync([FromForm(Name = "find")] string? typed, CancellationToken ct)
    {
        limit.Count(viewer);
        var terms = typed?.Length > Longest ? [] : SearchTerm.Read(typed);
        Problem = typed?.Length > Longest ? FindWords.TooLong : terms.Count == 0 ? FindWords.NothingReadable : null;
        if (Problem is null) Found = await find.RunAsync(terms, viewer, ct);
        await audit.ListAsync(Found?.Infants.Select(i => i.Id) ?? [], ct);
        ViewData["Find"] = typed?.Length > Longest ? null : typed;
    }
}
