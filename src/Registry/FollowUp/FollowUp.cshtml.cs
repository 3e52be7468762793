using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Record;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.FollowUp;

/// <summary>Whom to call next: overdue, due soon or lost, soonest due first, with a contact attempt recorded from the row.</summary>
[ShowsInfants]
public sealed class FollowUpModel(
    ShowInfants infants, RecordContact contact, AssignInfants assign, SiteChoices sites, AsOf asOf, Viewer viewer)
    : InfantListModel(infants, sites, asOf)
{
    protected override string DefaultSort => "due";
    protected override string FileName => "follow-up";
    protected override IReadOnlyList<InfantColumn> Columns { get; } = InfantColumn.Named(
        "record_number", "born_on", "responsible_site", "next_step", "next_due_on", "days_overdue", "loss", "lost_at",
        "contact_attempts", "last_contact_on", "last_contact", "as_of", "policy_version");

    /// <summary>Whom a coordinator may give infants to; null for anybody else, and on a past day.</summary>
    public IReadOnlyList<CaseWorker>? Workers { get; private set; }

    /// <summary>Who was given those shown.</summary>
    public IReadOnlyDictionary<InfantId, string> Assigned { get; private set; } = new Dictionary<InfantId, string>();

    protected override async Task ShownAsync(IReadOnlyList<InfantRow> rows, CancellationToken ct)
    {
        Assigned = await assign.NamesAsync([.. rows.Select(r => r.Id)], ct);
        if (viewer.IsCoordinator) Workers = await assign.WorkersAsync(ct);
    }

    /// <summary>Gives the ticked infants to a case worker, or to nobody.</summary>
    public async Task<IActionResult> OnPostAssignAsync([FromForm] Guid[] ticked, [FromForm] Guid? worker, [FromForm] string? returnTo,
        CancellationToken ct)
    {
        var answer = await assign.RunAsync([.. ticked.Select(i => new InfantId(i))], worker, ct);
        if (answer.Problem == AssignProblem.NotYours) return Forbid();
        TempData[answer.Problem is null ? "Done" : "Problem"] = AssignmentWords.Of(answer);
        return LocalRedirect(Url.IsLocalUrl(returnTo) ? returnTo! : "/follow-up");
    }

    protected override InfantFilter Complete(InfantFilter asked) => asked.Due is null ? asked with { Due = DueWindow.Overdue } : asked;

    public async Task<IActionResult> OnPostAsync([FromForm] Guid infant, [FromForm] ContactForm form, [FromForm] string? returnTo,
        CancellationToken ct)
    {
        var answer = await contact.AddAsync(new(infant), ModelState.IsValid ? form : null, ct);
        if (answer == ContactAnswer.NoSuchInfant) return NotFound();
        TempData[answer == ContactAnswer.Recorded ? "Done" : "Problem"] = ContactWords.OnFollowUp(answer);
        return LocalRedirect(Url.IsLocalUrl(returnTo) ? returnTo! : "/follow-up");
    }

    /// <summary>Which step of the path a due step belongs to.</summary>
    public static PathStep PathOf(DueStep? step) => step switch
    {
        DueStep.Screen or DueStep.CompleteScreen or DueStep.Rescreen or DueStep.RepeatScreen or DueStep.AbrScreen or DueStep.CmvTest
            or DueStep.HandOff or null => PathStep.Screening,
        DueStep.DiagnosticEvaluation or DueStep.CompleteDiagnosis or DueStep.MiddleEarReevaluation or DueStep.SurveillanceEvaluation
            or DueStep.Monitoring => PathStep.Diagnosis,
        _ => PathStep.Intervention,
    };
}
