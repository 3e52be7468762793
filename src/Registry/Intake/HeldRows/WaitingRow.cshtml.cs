using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.HeldRows;

/// <summary>One held or rejected row: what was sent, why it was not applied, who did what with it since; to be corrected, decided, and
/// taken back.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class WaitingRowModel(
    ReadWaitingRow read, FindCandidates find, FindConflict conflict, FindWaitingBirths births, ListWaitingRows waiting, DecideRow decide,
    TakeBackDecision takeBack, AuditReads audit, Viewer viewer) : PageModel
{
    [FromRoute(Name = "id")] public SubmissionId Id { get; set; }
    [FromRoute(Name = "row")] public int Number { get; set; }
    [BindProperty] public string? Identifier { get; set; }

    /// <summary>The row's last change when the person opened it.</summary>
    [BindProperty] public long? Seen { get; set; }

    /// <summary>The columns as a person corrects them, by code.</summary>
    [BindProperty] public Dictionary<string, string?> Values { get; set; } = [];

    /// <summary>Of what the reader of the file found, by its number, where the person says that the row is right as it stands.</summary>
    [BindProperty] public List<int> Confirmed { get; set; } = [];

    public WaitingRow Row { get; private set; } = null!;

    /// <summary>What is wrong with the row.</summary>
    public IReadOnlyList<Problem> Problems { get; private set; } = [];

    /// <summary>What is wrong with the row as corrected.</summary>
    public IReadOnlyList<Problem> CorrectionProblems { get; private set; } = [];
    public IReadOnlyList<CandidateInfant> Candidates { get; private set; } = [];
    public NextWaitingRow? Next { get; private set; }

    /// <summary>What it contradicts, side by side.</summary>
    public Conflict? Conflict { get; private set; }

    /// <summary>Births that wait themselves, and that it may wait for; of a birth, how many rows may wait for it.</summary>
    public WaitingBirths Births { get; private set; } = WaitingBirths.None;

    /// <summary>What the reader of the file found, by number.</summary>
    public IEnumerable<(int Index, Problem Problem)> Found => Row.Content.FoundByReader.Index();

    public bool MayDecide => Row.IsHeld && May(RowChangeKind.Matched);
    public bool MayCorrect => Row.Waits && May(RowChangeKind.Corrected);
    public bool MayMakeNew => MayDecide && Row.Stated.GetValueOrDefault(Field.Kind) == Codes.Of(RowKind.Birth)
        && Row.Stated.GetValueOrDefault(Field.Action) != Codes.Of(RowAction.Retract);

    /// <summary>How its child is known already: a new infant would be a second record of it.</summary>
    public WhyRefused? IsKnown { get; private set; }

    public bool MayDiscard => Row.Waits && May(RowChangeKind.Discarded);
    public bool MayTakeBack => Row.LastDecision is { } last && May(last.Kind);

    /// <summary>The value a column shows in the form: as corrected, else as it stands.</summary>
    public string Value(Field field) => CorrectionProblems.Count > 0 && Values.TryGetValue(Codes.Of(field), out var value)
        ? value ?? "" : Row.Stated.GetValueOrDefault(field, "");

    public RowKind? Kind => Codes.TryParse<RowKind>(Value(Field.Kind), out var kind) ? kind : null;

    public async Task<IActionResult> OnGetAsync(CancellationToken ct) => await ShowAsync(ct);

    /// <summary>Looks for an infant by an identifier; posted, because an identifier does not belong in a URL.</summary>
    public async Task<IActionResult> OnPostFindAsync(CancellationToken ct) => viewer.IsCoordinator ? await ShowAsync(ct) : Forbid();

    public async Task<IActionResult> OnPostCorrectAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (!May(RowChangeKind.Corrected)) return Forbid();
        var form = new CorrectionForm(Values);
        CorrectionProblems = form.TooLong(Row.Stated);
        if (CorrectionProblems.Count == 0)
        {
            var decided = await decide.CorrectAsync(Id, Number, form.Merge, By(), ct, Confirmed);
            if (decided.Refusal is { } refusal) return Answer(refusal);
            if (decided.Problems.Count == 0) return Answer(null, HeldRowWords.Done(decided));
            CorrectionProblems = decided.Problems;
        }

        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return await ShowAsync(ct);
    }

    public Task<IActionResult> OnPostMatchAsync(InfantId infant, CancellationToken ct) =>
        DecideAsync(RowChangeKind.Matched, by => decide.MatchAsync(Id, Number, infant, by, ct), ct);

    public Task<IActionResult> OnPostBothAsync(InfantId infant, CancellationToken ct) =>
        DecideAsync(RowChangeKind.KeptBoth, by => decide.KeepBothAsync(Id, Number, infant, by, ct), ct);

    /// <param name="known">The person knows that its record number or card is known.</param>
    /// <param name="ct">Cancels.</param>
    public Task<IActionResult> OnPostNewAsync(bool known, CancellationToken ct) =>
        DecideAsync(RowChangeKind.MadeNew, by => decide.MakeNewAsync(Id, Number, known, by, ct), ct);

    public Task<IActionResult> OnPostRetryAsync(CancellationToken ct) =>
        DecideAsync(RowChangeKind.AskedAgain, async by => new(await decide.AskAgainAsync(Id, Number, by, ct), []), ct);

    public Task<IActionResult> OnPostDiscardAsync(CancellationToken ct) =>
        DecideAsync(RowChangeKind.Discarded, async by => new(await decide.DiscardAsync(Id, Number, by, ct), []), ct);

    public async Task<IActionResult> OnPostTakeBackAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (!MayTakeBack) return Forbid();
        if (await takeBack.RunAsync(Id, Number, By(), Row.LastDecision!.Id, ct) is { } refusal) return Answer(refusal);
        return Answer(null, HeldRowWords.TakenBack(settlesItself: await FindAsync(ct) && Row.SettlesItself));
    }

    private bool May(RowChangeKind kind) => RowRights.May(viewer, Row.Content.SiteId, kind);

    private Decider By() => new(viewer.PersonId!.Value, null, Seen);

    private async Task<IActionResult> DecideAsync(RowChangeKind kind, Func<Decider, Task<DecidedRow>> run, CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (!May(kind)) return Forbid();
        var decided = await run(By());
        return Answer(decided.Refusal, HeldRowWords.Done(kind, decided.Released));
    }

    private RedirectResult Answer(RowRefusal? refusal, string done = "")
    {
        TempData[refusal is null ? "Done" : "Problem"] = refusal is null ? done : HeldRowWords.Of(refusal);
        return Redirect($"/submissions/{Id}/rows/{Number}");
    }

    private async Task<bool> FindAsync(CancellationToken ct)
    {
        if (await read.RunAsync(Id, Number, ct) is not { } row || !viewer.MaySee(row.Content.SiteId)) return false;
        Row = row;
        return true;
    }

    private async Task<IActionResult> ShowAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        Problems = Row.Problems;
        if (MayDecide)
        {
            (Candidates, var failing) = await find.ForRowAsync(Row.Content, Identifier, ct);
            if (failing.Count > 0) Problems = failing;
            Conflict = await conflict.OfAsync(Row, ct);
            IsKnown = MayMakeNew ? await find.KnownChildAsync(Row.Content, ct) : null;
        }

        if (Row.IsHeld) Births = await births.ForAsync(Row, ofAnySite: viewer.IsCoordinator, ct);
        Next = await waiting.NextAsync(Row, ct);
        await audit.ListAsync(Candidates.Select(c => c.Id), ct);
        return Page();
    }
}
