using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>One infant's record: where the infant stands and why, what is due, and every fact it stands on.</summary>
[ShowsInfants]
public sealed class InfantPageModel(
    OpenRecord records, RecordContact contact, Appointing appointing, AssignInfants assign, OfferOpenings openings, SiteChoices sites,
    AsOf asOf) : PageModel
{
    [FromRoute]
    public Guid Id { get; set; }

    public OpenedRecord Record { get; private set; } = null!;

    /// <summary>Null when nobody was ever given the infant and the viewer gives it to nobody.</summary>
    public CaseWorkerView? CaseWorker { get; private set; }

    /// <summary>Appointments that stand, with where they are.</summary>
    public IReadOnlyList<string> Booked { get; private set; } = [];

    /// <summary>The form of a call: nothing chosen yet.</summary>
    public ContactFields? Call { get; private set; }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (await records.AsOfAsync(new(Id), asOf.Date, ct) is not { } record) return NotFound();
        Record = record;
        if (asOf.IsToday && !record.ByGlass) Call = await CallAsync(record, ct);
        CaseWorker = asOf.IsToday ? await assign.OfAsync(new(Id), ct) : null;
        return Page();
    }

    private async Task<ContactFields> CallAsync(OpenedRecord record, CancellationToken ct)
    {
        var standing = await appointing.StandingAsync(new(Id), ct);
        var places = await sites.ActiveAsync(ct);
        Booked = standing.ConvertAll(a => ContactWords.Of(a, places));
        var booked = standing.Find(a => a.AppointmentOn >= asOf.Today);
        var form = new ContactForm
        {
            Key = Guid.CreateVersion7(),
            Step = booked?.Step ?? record.LikelyStep,
            AttemptedOn = asOf.Today,
            BookedOn = booked?.AppointmentOn,
        };
        return new(form, places, await openings.AheadAsync(ct), "record");
    }

    public async Task<IActionResult> OnPostContactAsync([FromForm] ContactForm form, CancellationToken ct) =>
        Said(await contact.AddAsync(new(Id), ModelState.IsValid ? form : null, ct));

    /// <summary>Gives the infant to a case worker, or to nobody.</summary>
    public async Task<IActionResult> OnPostAssignAsync([FromForm] Guid? worker, CancellationToken ct)
    {
        var answer = await assign.RunAsync([new(Id)], worker, ct);
        if (answer.Problem == AssignProblem.NotYours) return Forbid();
        TempData[answer.Problem is null ? "Done" : "Problem"] = AssignmentWords.Of(answer);
        return LocalRedirect($"/infants/{Id}");
    }

    public async Task<IActionResult> OnPostTakeBackAsync([FromForm] Guid factId, CancellationToken ct) =>
        Said(await contact.TakeBackAsync(new(Id), factId, ct));

    private IActionResult Said(ContactAnswer answer)
    {
        if (answer == ContactAnswer.NoSuchInfant) return NotFound();
        TempData[answer is ContactAnswer.Recorded or ContactAnswer.TakenBack ? "Done" : "Problem"] = ContactWords.OnRecord(answer);
        return LocalRedirect($"/infants/{Id}");
    }
}
