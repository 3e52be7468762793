using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.HandOffs;

/// <summary>An early-intervention program's home: referrals to acknowledge, families whose consent is awaited, who is to be enrolled, and
/// whose plan is to be recorded.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class EarlyInterventionModel(
    ListReferrals list, AnswerHandOff answers, IOptions<ProgramOptions> program, AuditReads audit, Viewer viewer, AsOf asOf) : PageModel
{
    private static readonly string[] Columns =
    [
        "stage", "parent", "child", "born_on", "from", "referred_on", "acknowledge_by", "acknowledged_on", "consent_on", "plan_by", "phone",
        "language",
    ];

    /// <summary>Which stage is shown; null: all.</summary>
    [FromQuery(Name = "show")] public string? Show { get; set; }

    public IReadOnlyList<Referral> All { get; private set; } = [];
    public IReadOnlyList<Referral> Rows { get; private set; } = [];
    public ReferralStage? Shown => Codes.TryParse<ReferralStage>(Show, out var stage) ? stage : null;
    public string Phone => program.Value.Phone;

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
        return new CsvResult($"referrals-{asOf.Today:yyyy-MM-dd}.csv", Columns, Rows.Select(r => new object?[]
        {
            r.Stage, r.Parent, r.Child, r.BornOn, r.From, r.SentAt, r.AcknowledgeBy, r.AcknowledgedOn, r.ConsentOn, r.PlanBy, r.Phone,
            r.Language,
        }).ToAsyncEnumerable());
    }

    public async Task<IActionResult> OnPostAnswerAsync(
        [FromForm] Guid handOff, [FromForm] HandOffAct? act, [FromForm] string? reason, CancellationToken ct)
    {
        var (answer, _) = await answers.RunAsync(handOff, act, HandOffWords.Read(reason), null, ct);
        if (answer == HandOffAnswer.NoSuchHandOff) return NotFound();
        TempData[answer == HandOffAnswer.Recorded ? "Done" : "Problem"] = HandOffWords.Of(answer);
        return LocalRedirect("/early-intervention");
    }

    private async Task ReadAsync(CancellationToken ct)
    {
        All = await list.OfAsync(viewer, ct);
        Rows = [.. All.Where(r => Shown is null ? r.Stage != ReferralStage.InServices : r.Stage == Shown)];
        await audit.ListAsync(Rows.Select(r => r.Id), ct);
    }
}
