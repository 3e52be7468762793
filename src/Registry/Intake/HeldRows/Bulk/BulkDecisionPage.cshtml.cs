using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.HeldRows.Bulk;

/// <summary>Rows chosen to be decided together: what to do with them, how far it is, what came of it, and the taking back of the
/// whole.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class BulkDecisionPageModel(
    ReadBulkDecision read, StartBulkDecision start, TryBulkCorrection tryCorrection, FindCandidates find, AuditReads audit, Viewer viewer)
    : PageModel
{
    private const int PageRows = 50;
    private const int MostValues = 12;

    [FromRoute(Name = "id")] public Guid Id { get; set; }
    [FromQuery(Name = "page")] public int PageNumber { get; set; } = 1;

    [BindProperty] public BulkCorrection Correction { get; set; } = new();
    [BindProperty] public string? Identifier { get; set; }

    public BulkDecision Bulk { get; private set; } = null!;
    public string? Decider { get; private set; }
    public IReadOnlyList<BulkCount> Counts { get; private set; } = [];
    public IReadOnlyList<BulkLine> Lines { get; private set; } = [];
    public IReadOnlyList<Field> Offered { get; private set; } = [];

    /// <summary>What the chosen column states in these rows, most first; null for a personal column, whose values are not listed.</summary>
    public IReadOnlyList<(string Value, int Rows)>? Values { get; private set; }

    /// <summary>What <see cref="Correction"/> would do; null before it says all that is needed.</summary>
    public BulkTrial? Trial { get; private set; }

    /// <summary>Why the correction cannot be tried, or was not carried out.</summary>
    public BulkRefusal? Refusal { get; private set; }
    public IReadOnlyList<CandidateInfant> Candidates { get; private set; } = [];

    /// <summary>All of them are births: each may be a new infant.</summary>
    public bool AreBirths { get; private set; }

    public int Total => Counts.Sum(c => c.Rows);
    public int Left => Count(BulkRowState.Chosen);
    public bool TakingBack => Bulk.UndoAskedAt is not null && ToTakeBack > 0;
    public bool Running => Bulk.DecidedAt is not null && (Left > 0 || TakingBack);
    public int Done => Total - (Bulk.UndoAskedAt is null ? Left : ToTakeBack);
    public bool HasNext => PageNumber < Pages;

    /// <summary>Not again while it is taken back; afterwards for the rows that could not be taken back then.</summary>
    public bool MayTakeBack => Bulk is { DecidedAt: not null, Kind: { } kind } && May(kind) && !(Bulk.UndoAskedAt is not null && Running)
        && Count(BulkRowState.Done) + Left > 0;

    private int ToTakeBack => Counts.Where(c => c is { State: BulkRowState.Done, Reason: null }).Sum(c => c.Rows);
    private int Pages => Math.Max(1, (Total + PageRows - 1) / PageRows);

    public int Count(BulkRowState state) => Counts.Where(c => c.State == state).Sum(c => c.Rows);

    public bool May(RowChangeKind kind) => RowRights.May(viewer, Bulk.SiteId, kind);

    public Task<IActionResult> OnGetAsync(CancellationToken ct) => ShowAsync(ct);

    /// <summary>Shows what a column states, and what the correction would do.</summary>
    public Task<IActionResult> OnPostTryAsync(CancellationToken ct) => ShowAsync(ct);

    public Task<IActionResult> OnPostFindAsync(CancellationToken ct) => ShowAsync(ct);

    /// <summary>Progress, in the words the page's script reads.</summary>
    public async Task<IActionResult> OnGetStatusAsync(CancellationToken ct) => await FindAsync(ct)
        ? new JsonResult(new { state = Running ? "processing" : "done", rows = Total, rowsDone = Done })
        : NotFound();

    /// <summary>Carries out what was tried, and nothing else: another choice is tried first.</summary>
    public async Task<IActionResult> OnPostCorrectAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (!May(RowChangeKind.Corrected)) return Forbid();
        Correction.BeginAnew();
        if (Bulk.DecidedAt is null && !Correction.IsAsTried(Id))
        {
            Refusal = BulkRefusal.NotAsTried;
            return await ShowAsync(ct);
        }

        if (await ReadCorrectionAsync(ct) is { } refusal) return Answer(refusal);
        return await DecideAsync(RowChangeKind.Corrected, ct);
    }

    public async Task<IActionResult> OnPostMatchAsync(InfantId infant, CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        Bulk.InfantId = infant;
        return await DecideAsync(RowChangeKind.Matched, ct);
    }

    /// <summary>Each birth is a child of its own; one whose record number or card is known is left as it is.</summary>
    public async Task<IActionResult> OnPostNewAsync(CancellationToken ct) =>
        await FindAsync(ct) ? await DecideAsync(RowChangeKind.MadeNew, ct) : NotFound();

    public async Task<IActionResult> OnPostRetryAsync(CancellationToken ct) =>
        await FindAsync(ct) ? await DecideAsync(RowChangeKind.AskedAgain, ct) : NotFound();

    public async Task<IActionResult> OnPostDiscardAsync(CancellationToken ct) =>
        await FindAsync(ct) ? await DecideAsync(RowChangeKind.Discarded, ct) : NotFound();

    public async Task<IActionResult> OnPostTakeBackAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (Bulk.Kind is not { } kind || !May(kind)) return Forbid();
        if (!await start.TakeBackAsync(Id, viewer.PersonId!.Value, ct)) return Answer(BulkRefusal.TakenBackAlready);
        await start.CarryOutAsync(Id, Total);
        return Answer(null);
    }

    private async Task<IActionResult> DecideAsync(RowChangeKind kind, CancellationToken ct)
    {
        if (!May(kind)) return Forbid();
        (Bulk.Kind, Bulk.DecidedBy) = (kind, viewer.PersonId);
        if (!await start.DecideAsync(Bulk, ct)) return Answer(BulkRefusal.DecidedAlready);
        await start.CarryOutAsync(Id, Total);
        return Answer(null);
    }

    private RedirectResult Answer(BulkRefusal? refusal)
    {
        if (refusal is { } why) TempData["Problem"] = BulkWords.Of(why);
        return Redirect($"/submissions/held/bulk/{Id}");
    }

    /// <summary>What the form's correction changes, in the decision.</summary>
    private async Task<BulkRefusal?> ReadCorrectionAsync(CancellationToken ct)
    {
        if (Correction.Column is not { } column) return BulkRefusal.NoColumn;
        var listed = await ValuesAsync(column, ct) ?? [];
        if (Correction.Read(listed.Select(v => v.Value), out var from) is { } refusal) return refusal;
        (Bulk.Field, Bulk.FromValue, Bulk.ToValue) = (Correction.Field, from, Correction.Write);
        return null;
    }

    private async Task<bool> FindAsync(CancellationToken ct)
    {
        if (await read.FindAsync(Id, ct) is not var (bulk, decider)) return false;
        if (!(viewer.IsCoordinator || (bulk.SiteId is { } site && viewer.MaySee(site)))) return false;
        (Bulk, Decider) = (bulk, decider);
        Counts = await read.CountsAsync(Id, ct);
        return true;
    }

    private async Task<IActionResult> ShowAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        PageNumber = Math.Clamp(PageNumber, 1, Pages);
        Lines = await read.RowsAsync(Id, (PageNumber - 1) * PageRows, PageRows, ct);
        if (Bulk.DecidedAt is null) await OfferAsync(ct);
        await audit.ListAsync(Total, ct);
        if (Candidates.Count > 0) await audit.ListAsync(Candidates.Select(c => c.Id), ct);
        return Page();
    }

    private async Task OfferAsync(CancellationToken ct)
    {
        Correction.BeginAnew();
        var (kinds, stated) = await read.ColumnsAsync(Id, ct);
        AreBirths = kinds.Count > 0 && kinds.All(k => k == RowKind.Birth);
        Offered = [.. kinds.SelectMany(k => RowForm.FieldsOf(k, stated)).Distinct().Order()];
        if (Correction.Column is { } column)
        {
            Values = await ValuesAsync(column, ct);
            if (Correction.To is not null) await TryAsync(column, ct);
        }

        if (viewer.IsCoordinator && !string.IsNullOrWhiteSpace(Identifier)) Candidates = await find.ByIdentifierAsync(Identifier, ct);
    }

    private async Task TryAsync(Field column, CancellationToken ct)
    {
        if (Correction.Read((Values ?? []).Select(v => v.Value), out var from) is { } unclear) Refusal ??= unclear;
        else Trial = await tryCorrection.RunAsync(Id, column, from, Correction.Write, ct);
    }

    private async Task<IReadOnlyList<(string Value, int Rows)>?> ValuesAsync(Field column, CancellationToken ct) =>
        RowForm.IsPersonal(column) ? null : await read.ValuesAsync(Id, column, MostValues, ct);
}
