using Microsoft.AspNetCore.Mvc;
using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Record;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.FollowUp;

/// <summary>Whom to call next: overdue, due soon or lost, soonest due first, with a contact attempt recorded from the row.</summary>
[ShowsInfants]
public sealed class FollowUpModel(ShowInfants infants, RecordContact contact, SiteChoices sites, AsOf asOf)
    : InfantListModel(infants, sites, asOf)
{
    protected override string DefaultSort => "due";
    protected override string FileName => "follow-up";
    protected override IReadOnlyList<InfantColumn> Columns { get; } = InfantColumn.Named(
        "record_number", "born_on", "responsible_site", "next_step", "next_due_on", "days_overdue", "loss", "lost_at",
        "contact_attempts", "last_contact_on", "last_contact", "as_of", "policy_version");

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
