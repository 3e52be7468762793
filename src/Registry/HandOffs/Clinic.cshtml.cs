using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>A clinic's home: today's appointments, infants handed to it, results to enter, and results it is asked for.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class ClinicModel(
    ListClinicWork list, AnswerHandOff answers, AskForAnswer asking, AuditReads audit, Viewer viewer, AsOf asOf) : PageModel
{
    private static readonly string[] Columns =
        ["what", "on", "time", "mother", "child", "record_number", "born_on", "step", "from", "phone", "language"];

    /// <summary>Which kind is shown; null: all.</summary>
    [FromQuery(Name = "show")] public string? Show { get; set; }

    /// <summary>The code of the site that handed them on; null: any.</summary>
    [FromQuery(Name = "site")] public string? Sender { get; set; }

    /// <summary>Everything that waits.</summary>
    public IReadOnlyList<ClinicRow> All { get; private set; } = [];

    /// <summary>Those the filter leaves.</summary>
    public IReadOnlyList<ClinicRow> Rows { get; private set; } = [];
    public ClinicWork? Shown => Codes.TryParse<ClinicWork>(Show, out var kind) ? kind : null;
    public IReadOnlyList<(string? Code, string? Name)> Senders =>
        [.. All.Where(r => r.FromCode is not null).Select(r => (r.FromCode, r.From)).Distinct()
            .OrderBy(s => s.From, StringComparer.Ordinal)];

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
        return new CsvResult($"clinic-{asOf.Today:yyyy-MM-dd}.csv", Columns, Rows.Select(r => new object?[]
        {
            r.Kind, r.On, r.Time, r.Mother, r.Child, r.RecordNumber, r.BornOn, r.Step, r.From, r.Phone, r.Language,
        }).ToAsyncEnumerable());
    }

    public async Task<IActionResult> OnPostAnswerAsync(
        [FromForm] Guid handOff, [FromForm] HandOffAct? act, [FromForm] string? reason, CancellationToken ct)
    {
        var (answer, _) = await answers.RunAsync(handOff, act, HandOffWords.Read(reason), null, ct);
        if (answer == HandOffAnswer.NoSuchHandOff) return NotFound();
        TempData[answer == HandOffAnswer.Recorded ? "Done" : "Problem"] = HandOffWords.Of(answer);
        return LocalRedirect("/clinic");
    }

    /// <summary>A result that is asked for and that the clinic does not have.</summary>
    public async Task<IActionResult> OnPostNothingAsync([FromForm] Guid request, CancellationToken ct)
    {
        if (!await asking.HasNothingAsync(request, ct)) return NotFound();
        TempData["Done"] = ClinicWords.SaidNothing;
        return LocalRedirect("/clinic");
    }

    private async Task ReadAsync(CancellationToken ct)
    {
        All = await list.OfAsync(viewer, ct);
        Rows = [.. All.Where(r => (Shown is null || r.Kind == Shown) && (string.IsNullOrEmpty(Sender) || r.FromCode == Sender))];
        await audit.ListAsync(Rows.Select(r => r.Id), ct);
    }
}
