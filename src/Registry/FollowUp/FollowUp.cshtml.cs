using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Record;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Rules.Work;
using Registry.Ui;

namespace Registry.FollowUp;

/// <summary>The work list: whom to call and why, what waits, and beside it the panel in which a call is written down.</summary>
[ShowsInfants]
public sealed class FollowUpModel(
    ListWork list, OpenCallPanel panels, RecordContact contact, Appointing appointing, PutOffInfant putOff, AssignInfants assign,
    StatusSource days, SiteChoices sites, KeepViews keep, AuditReads audit, AsOf asOf, Viewer viewer) : PageModel
{
    public WorkFilter Filter { get; private set; } = new();
    public WorkCounts Counts { get; private set; } = null!;
    public IReadOnlyList<WorkRow> Rows { get; private set; } = [];
    public string? Next { get; private set; }
    public IReadOnlyList<Site> Sites { get; private set; } = [];

    /// <summary>Who the work may be given to; null for whoever gives it to nobody.</summary>
    public IReadOnlyList<CaseWorker>? Workers { get; private set; }

    /// <summary>Whose the infants shown are.</summary>
    public IReadOnlyDictionary<InfantId, string> Owners { get; private set; } = new Dictionary<InfantId, string>();

    /// <summary>Null when no infant is chosen.</summary>
    public CallPanel? Panel { get; private set; }

    /// <summary>Filters saved by the viewer or for the viewer's office.</summary>
    public ViewStrip Views { get; private set; } = null!;

    /// <summary>The saved view that is asked for, or whose filter is shown.</summary>
    [FromQuery]
    public Guid? View { get; set; }

    public bool MayTake => viewer.IsCoordinator || viewer.IsCaseWorker;

    [FromQuery]
    public string? After { get; set; }

    /// <summary>More infants at once, to be printed and called from paper.</summary>
    [FromQuery]
    public bool Sheet { get; set; }

    /// <summary>The infant of the panel.</summary>
    [FromQuery]
    public Guid? Infant { get; set; }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        await days.RefuseOutsideAsync(asOf.Date, ct);
        if (!Request.Query.ContainsKey("tray")
            && ViewStrip.Opened(await keep.AllAsync(ViewedList.Work, ct), View, Request.Query) is { } view)
            return LocalRedirect($"/follow-up?{view.Filter}&view={view.Id}");
        if (Infant is { } chosen) Panel = await panels.OfAsync(new(chosen), ct);
        await ShowAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        var filter = WorkFilter.Read(Request.Query);
        await audit.ListAsync(await list.IdsAsync(filter, viewer, ct), ct);
        return new CsvResult($"follow-up-{asOf.Today:yyyy-MM-dd}.csv", WorkColumns.Names,
            list.AllAsync(filter, viewer, ct).Select(row => WorkColumns.Of(row, asOf.Today)));
    }

    /// <summary>Writes a call down, and opens the next infant of the list.</summary>
    public async Task<IActionResult> OnPostAsync([FromForm] Guid infant, [FromForm] ContactForm form, [FromForm] string? at,
        CancellationToken ct)
    {
        var answer = await contact.AddAsync(new(infant), ModelState.IsValid ? form : null, ct);
        if (answer == ContactAnswer.NoSuchInfant) return NotFound();
        if (answer is ContactAnswer.Recorded or ContactAnswer.Already)
        {
            TempData["Done"] = ContactWords.OnFollowUp(answer);
            if (answer == ContactAnswer.Recorded && form.Key is { } key) TempData["Undo"] = $"{infant:n} {key:n}";
            return await ToNextAsync(infant, at, ct);
        }

        // What was typed is not lost.
        Panel = await panels.OfAsync(new(infant), ct);
        if (Panel is not null) Panel = Panel with { Form = form with { BookedOn = Panel.Booked?.AppointmentOn }, Problem = answer };
        Response.StatusCode = answer == ContactAnswer.BookedMeanwhile ? StatusCodes.Status409Conflict
            : StatusCodes.Status422UnprocessableEntity;
        await ShowAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnPostUndoAsync([FromForm] Guid infant, [FromForm] Guid key, CancellationToken ct)
    {
        var answer = await contact.UndoAsync(new(infant), key, ct);
        if (answer == ContactAnswer.NoSuchInfant) return NotFound();
        TempData[answer == ContactAnswer.TakenBack ? "Done" : "Problem"] = ContactWords.OnFollowUp(answer);
        return Back(infant);
    }

    /// <summary>What became of an appointment.</summary>
    public async Task<IActionResult> OnPostAppointmentAsync([FromForm] Guid infant, [FromForm] AppointmentForm form, CancellationToken ct)
    {
        var answer = await appointing.EndAsync(new(infant), ModelState.IsValid ? form : null, ct);
        if (answer == AppointmentAnswer.NoSuchInfant) return NotFound();
        TempData[answer is AppointmentAnswer.Recorded or AppointmentAnswer.Already ? "Done" : "Problem"] = ContactWords.Of(answer);
        if (answer == AppointmentAnswer.Recorded && form.Key is { } key) TempData["Undo"] = $"{infant:n} {key:n}";
        return Back(infant);
    }

    public async Task<IActionResult> OnPostPutOffAsync([FromForm] Guid infant, [FromForm] DateOnly? until, [FromForm] PutOffReason? reason,
        CancellationToken ct)
    {
        var answer = ModelState.IsValid ? await putOff.RunAsync(new(infant), until, reason, ct) : PutOffAnswer.NotUnderstood;
        if (answer == PutOffAnswer.NoSuchInfant) return NotFound();
        TempData[answer is PutOffAnswer.Recorded or PutOffAnswer.Ended ? "Done" : "Problem"] = ContactWords.Of(answer);
        return Back(infant);
    }

    /// <summary>Takes an infant for oneself.</summary>
    public async Task<IActionResult> OnPostTakeAsync([FromForm] Guid infant, CancellationToken ct)
    {
        var answer = await assign.TakeAsync(new(infant), ct);
        if (answer.Problem == AssignProblem.NotYours) return NotFound();
        TempData[answer.Problem is null ? "Done" : "Problem"] = AssignmentWords.Of(answer);
        return Back(infant);
    }

    /// <summary>Gives the ticked infants to somebody, or to nobody.</summary>
    public async Task<IActionResult> OnPostAssignAsync([FromForm] Guid[] ticked, [FromForm] Guid? worker, CancellationToken ct)
    {
        var answer = await assign.RunAsync([.. ticked.Select(i => new InfantId(i))], worker, ct);
        if (answer.Problem == AssignProblem.NotYours) return Forbid();
        TempData[answer.Problem is null ? "Done" : "Problem"] = AssignmentWords.Of(answer);
        return Back(null);
    }

    private async Task ShowAsync(CancellationToken ct)
    {
        Filter = WorkFilter.Read(Request.Query);
        Sites = await sites.AllAsync(ct);
        Counts = await list.CountAsync(Filter, viewer, ct);
        (Rows, var more) = await list.PageAsync(Filter, viewer, After, Sheet ? ListWork.SheetSize : ListWork.PageSize, ct);
        Next = more ? Rows[^1].Position : null;
        var shown = Rows.Select(r => r.Id).ToList();
        if (Panel is { } panel) shown.Add(panel.Row.Id);
        await audit.ListAsync(shown, ct);
        Owners = await assign.NamesAsync(shown, ct);
        Views = new("/follow-up", await keep.AllAsync(ViewedList.Work, ct), Filter.ToQuery(), View);
        if (viewer.IsCoordinator) Workers = await assign.WorkersAsync(ct);
    }

    /// <summary>The list as it was asked for, with the row after the one that is done in the panel.</summary>
    private async Task<IActionResult> ToNextAsync(Guid done, string? at, CancellationToken ct)
    {
        var (rows, _) = await list.PageAsync(WorkFilter.Read(Request.Query), viewer, at, 2, ct);
        return Back(rows.FirstOrDefault(r => r.Id.Value != done)?.Id.Value);
    }

    private LocalRedirectResult Back(Guid? chosen) =>
        LocalRedirect(asOf.Here(("handler", null), ("infant", chosen)) + (chosen is null ? "" : "#call"));
}
