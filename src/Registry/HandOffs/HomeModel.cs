using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>What the homes of a clinic and of an early-intervention program have in common: what waits for the viewer's site, as a page and
/// as CSV, and what is said of a hand-off.</summary>
public abstract class HomeModel<TRow>(AnswerHandOff answers, AuditReads audit, Viewer viewer, AsOf asOf) : PageModel
{
    /// <summary>Which kind is shown; null: all.</summary>
    [FromQuery(Name = "show")] public string? Show { get; set; }

    /// <summary>Everything of the site.</summary>
    public IReadOnlyList<TRow> All { get; private set; } = [];

    /// <summary>Those the filter leaves.</summary>
    public IReadOnlyList<TRow> Rows { get; private set; } = [];

    /// <summary>The page's address.</summary>
    protected abstract string Home { get; }
    protected abstract string CsvName { get; }
    protected abstract string[] Columns { get; }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (viewer.SiteId is null) return NotFound();
        await ReadAsync(ct);
        return Page();
    }

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        if (viewer.SiteId is null) return NotFound();
        await ReadAsync(ct);
        return new CsvResult($"{CsvName}-{asOf.Today:yyyy-MM-dd}.csv", Columns, Rows.Select(Cells).ToAsyncEnumerable());
    }

    public async Task<IActionResult> OnPostAnswerAsync(
        [FromForm] Guid handOff, [FromForm] HandOffAct? act, [FromForm] string? reason, CancellationToken ct)
    {
        var (answer, _) = await answers.RunAsync(handOff, act, HandOffWords.Read(reason), null, ct);
        if (answer == HandOffAnswer.NoSuchHandOff) return NotFound();
        TempData[answer == HandOffAnswer.Recorded ? "Done" : "Problem"] = HandOffWords.Of(answer);
        return LocalRedirect(Home);
    }

    protected abstract Task<IReadOnlyList<TRow>> ListAsync(Viewer of, CancellationToken ct);

    protected abstract bool IsShown(TRow row);

    protected abstract InfantId InfantOf(TRow row);

    protected abstract object?[] Cells(TRow row);

    private async Task ReadAsync(CancellationToken ct)
    {
        All = await ListAsync(viewer, ct);
        Rows = [.. All.Where(IsShown)];
        await audit.ListAsync(Rows.Select(InfantOf), ct);
    }
}
