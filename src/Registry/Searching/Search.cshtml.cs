using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Record;
using Registry.PolicyVersions;
using Registry.Rules.Work;
using Registry.Ui;

namespace Registry.Searching;

/// <summary>Searching for the family of one infant: what the registry itself knows that may lead to it, the searches made, and closing the
/// work.</summary>
[Authorize(Policy = Permissions.SeeInfants), ShowsInfants]
public sealed class SearchModel(
    LookElsewhere look, RecordSearch record, CloseWork close, ShowSearches show, OpenRecord records, PolicyStore policies, AuditReads audit,
    AsOf asOf) : PageModel
{
    [FromRoute] public Guid Id { get; set; }

    public OpenedRecord Record { get; private set; } = null!;
    public Elsewhere Elsewhere { get; private set; } = null!;
    public IReadOnlyList<SearchLine> Searches { get; private set; } = [];

    /// <summary>The closing that was not ended; null: none.</summary>
    public ClosingLine? Closed { get; private set; }
    public SearchForm Form { get; private set; } = new();
    public SearchAnswer? Problem { get; private set; }

    /// <summary>Where this program looks.</summary>
    public IReadOnlyList<SearchPlace> Places { get; private set; } = [];
    public int TriesBeforeClosing { get; private set; }
    public bool MayClose => close.IsAllowed;

    public Task<IActionResult> OnGetAsync(CancellationToken ct) => ShowAsync(null, ct);

    public async Task<IActionResult> OnPostAsync([FromForm] SearchForm form, CancellationToken ct)
    {
        var answer = await record.AddAsync(new(Id), ModelState.IsValid ? form : null, ct);
        if (answer is SearchAnswer.Recorded or SearchAnswer.Already or SearchAnswer.NoSuchInfant) return Said(answer);
        Problem = answer;
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return await ShowAsync(form, ct);
    }

    public async Task<IActionResult> OnPostTakeBackAsync([FromForm] Guid search, CancellationToken ct) =>
        Said(await record.TakeBackAsync(new(Id), search, ct));

    public async Task<IActionResult> OnPostCloseAsync([FromForm] string? reason, CancellationToken ct) =>
        Said(await close.RunAsync(new(Id), reason, ct));

    public async Task<IActionResult> OnPostReopenAsync(CancellationToken ct) => Said(await close.ReopenAsync(new(Id), ct));

    private async Task<IActionResult> ShowAsync(SearchForm? form, CancellationToken ct)
    {
        if (!record.IsAllowed || await records.AsOfAsync(new(Id), asOf.Today, ct) is not { ByGlass: false } opened) return NotFound();
        Record = opened;
        Elsewhere = await look.ForAsync(new(Id), ct);
        await audit.ListAsync(Elsewhere.Infants.Select(i => i.Id), ct);
        (Searches, var closings) = await show.OfAsync(new(Id), ct);
        Closed = closings.FirstOrDefault(c => c.Closing.ReopenedAt is null);
        var policy = await policies.InForceAsync(asOf.Today, ct);
        (Places, TriesBeforeClosing) = ([.. policy.PlacesToSearch()], policy.TriesBeforeClosing);
        Form = (form ?? new() { SearchedOn = asOf.Today }) with { Key = form?.Key ?? Guid.CreateVersion7() };
        return Page();
    }

    private IActionResult Said(SearchAnswer answer)
    {
        if (answer == SearchAnswer.NoSuchInfant) return NotFound();
        var isDone = answer is SearchAnswer.Recorded or SearchAnswer.TakenBack or SearchAnswer.Closed or SearchAnswer.Reopened;
        TempData[isDone ? "Done" : "Problem"] = SearchWords.Of(answer);
        return LocalRedirect($"/infants/{Id}/search");
    }
}
