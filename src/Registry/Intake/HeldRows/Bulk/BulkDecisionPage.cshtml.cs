using Hangfire;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.HeldRows.Bulk;

/// <summary>What a bulk correction would do: rows that state what is to be changed, of them those that then pass the checks, and why others
/// do not.</summary>
public sealed record BulkTrial(int States, int Pass, IReadOnlyList<(string Reason, int Rows)> Problems);

/// <summary>Rows chosen to be decided together: what to do with them, how far it is, what came of it, and the undo of the whole.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class BulkDecisionPageModel(
    RegistryDb db, ReadBulkDecision read, DecideTogether together, FindCandidates find, NpgsqlDataSource source, ProgramClock clock,
    AuditReads audit,
    Viewer viewer) : PageModel
{
    private const int PageRows = 50;
    private const int MostValues = 12;

    [FromRoute(Name = "id")] public Guid Id { get; set; }
    [FromQuery(Name = "page")] public int PageNumber { get; set; } = 1;

    [BindProperty] public BulkCorrection Correction { get; set; } = new();
    [BindProperty] public string? Identifier { get; set; }

    public BulkDecision Bulk { get; private set; } = null!;
    public IReadOnlyList<BulkCount> Counts { get; private set; } = [];
    public IReadOnlyList<BulkLine> Lines { get; private set; } = [];
    public IReadOnlyList<Field> Offered { get; private set; } = [];

    /// <summary>What the chosen column states in these rows, most first; null for a personal column, whose values are not listed.</summary>
    public IReadOnlyList<(string Value, int Rows)>? Values { get; private set; }

    /// <summary>What <see cref="Correction"/> would do, and its print; null before it says all that is needed.</summary>
    public BulkTrial? Trial { get; private set; }

    /// <summary>Why the correction cannot be tried, or was not carried out.</summary>
    public string? Problem { get; private set; }
    public IReadOnlyList<CandidateInfant> Candidates { get; private set; } = [];
    public string? Decider { get; private set; }

    public int Total => Counts.Sum(c => c.Rows);
    public int Left => Count(BulkRowState.Chosen);
    public bool Undoing => Bulk.UndoAskedAt is not null && Counts.Any(c => c is { State: BulkRowState.Done, Reason: null });
    public bool Running => Bulk.DecidedAt is not null && (Left > 0 || Undoing);
    public int Done => Bulk.UndoAskedAt is null ? Total - Left : Total - Counts.Where(c => c is { State: BulkRowState.Done, Reason: null })
        .Sum(c => c.Rows);
    public bool HasNext => PageNumber < Pages;

    /// <summary>Not again while it is undone; afterwards for the rows that could not be undone then.</summary>
    public bool MayUndo => Bulk is { DecidedAt: not null, Kind: { } kind } && May(kind) && !(Bulk.UndoAskedAt is not null && Running)
        && Count(BulkRowState.Done) + Left > 0;

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
        if (Bulk.DecidedAt is null && (Correction.Column is null || Correction.Tried != Correction.PrintOf(Id)))
        {
            Problem = "The choice is not the one that was tried. Nothing was changed: look what it would do first.";
            return await ShowAsync(ct);
        }

        string? from = null;
        var problem = Correction.Column is { } column ? Correction.Read(
            (await ValuesAsync(column, ct) ?? []).Select(v => v.Value), out from) : "Choose the column to correct.";
        return await DecideAsync(RowChangeKind.Corrected, () =>
        {
            (Bulk.Field, Bulk.FromValue, Bulk.ToValue) = (Correction.Field, from, Correction.Write);
            return problem;
        }, ct);
    }

    public Task<IActionResult> OnPostMatchAsync(InfantId infant, CancellationToken ct) => DecideAsync(RowChangeKind.Matched, () =>
    {
        Bulk.InfantId = infant;
        return null;
    }, ct);

    public Task<IActionResult> OnPostRetryAsync(CancellationToken ct) => DecideAsync(RowChangeKind.AskedAgain, () => null, ct);

    public Task<IActionResult> OnPostDiscardAsync(CancellationToken ct) => DecideAsync(RowChangeKind.Discarded, () => null, ct);

    public async Task<IActionResult> OnPostUndoAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (Bulk.Kind is not { } kind || !May(kind)) return Forbid();
        if (!await together.UndoAsync(Id, viewer.PersonId!.Value, ct))
            TempData["Problem"] = "It was taken back already, or is being taken back.";
        else await RunAsync();
        return Redirect($"/submissions/held/bulk/{Id}");
    }

    private async Task<IActionResult> DecideAsync(RowChangeKind kind, Func<string?> prepare, CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (!May(kind)) return Forbid();
        (Bulk.Kind, Bulk.DecidedBy) = (kind, viewer.PersonId);
        if (prepare() is { } problem) TempData["Problem"] = problem;
        else if (!await together.DecideAsync(Bulk, ct))
            TempData["Problem"] = "It was decided already, by somebody else or in another window.";
        else await RunAsync();
        return Redirect($"/submissions/held/bulk/{Id}");
    }

    /// <summary>A few rows at once, many by a worker.</summary>
    private async Task RunAsync()
    {
        if (Total <= DecideTogether.InlineRows) await together.RunAsync(Id, CancellationToken.None);
        else HttpContext.RequestServices.GetService<IBackgroundJobClient>()?.Enqueue<DecideTogether>(
            t => t.RunAsync(Id, CancellationToken.None));
    }

    private async Task<bool> FindAsync(CancellationToken ct)
    {
        var bulk = await db.BulkDecisions.AsNoTracking().FirstOrDefaultAsync(b => b.Id == Id, ct);
        if (bulk is null || !(viewer.IsCoordinator || (bulk.SiteId is { } site && viewer.MaySee(site)))) return false;
        Bulk = bulk;
        Counts = await read.CountsAsync(Id, ct);
        return true;
    }

    private async Task<IActionResult> ShowAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        PageNumber = Math.Clamp(PageNumber, 1, Pages);
        Lines = await read.RowsAsync(Id, (PageNumber - 1) * PageRows, PageRows, ct);
        if (Bulk.DecidedBy is { } by) Decider = (await db.Users.FindAsync([by], ct))?.DisplayName;
        if (Bulk.DecidedAt is null) await OfferAsync(ct);
        await audit.ListAsync(Total + Candidates.Count, ct);
        return Page();
    }

    private async Task OfferAsync(CancellationToken ct)
    {
        Correction.BeginAnew();
        var (kinds, stated) = await read.ColumnsAsync(Id, ct);
        Offered = [.. kinds.SelectMany(k => RowForm.FieldsOf(k, stated)).Distinct().Order()];
        if (Correction.Column is { } column)
        {
            Values = await ValuesAsync(column, ct);
            if (Correction.To is not null)
            {
                if (Correction.Read((Values ?? []).Select(v => v.Value), out var from) is { } unclear) Problem ??= unclear;
                else Trial = await TryAsync(column, from, ct);
            }
        }

        if (viewer.IsCoordinator && !string.IsNullOrWhiteSpace(Identifier)) Candidates = await find.ByIdentifierAsync(Identifier, ct);
    }

    private async Task<IReadOnlyList<(string Value, int Rows)>?> ValuesAsync(Field column, CancellationToken ct) =>
        RowForm.IsPersonal(column) ? null : await read.ValuesAsync(Id, column, MostValues, ct);

    private async Task<BulkTrial> TryAsync(Field column, string? from, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        var sites = await KnownSites.ReadAsync(connection, ct);
        var (states, pass) = (0, 0);
        var problems = new Dictionary<string, int>();
        foreach (var content in await read.ContentsAsync(Id, ct))
        {
            if (DecideTogether.Change(RowContent.Fields(content.Content), column, from, Correction.Write) is not { } changed) continue;
            states++;
            var wrong = DecideRow.Check(content, changed, clock, sites);
            if (wrong.Count == 0) pass++;
            foreach (var problem in wrong.Select(p => $"{p.Field} {p.Reason}".Trim()).Distinct())
                problems[problem] = problems.GetValueOrDefault(problem) + 1;
        }

        return new(states, pass, [.. problems.OrderByDescending(p => p.Value).Select(p => (p.Key, p.Value))]);
    }
}
