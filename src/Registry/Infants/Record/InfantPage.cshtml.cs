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

    /// <summary>The form of a call: nothing chosen yet, or what was typed and refused.</summary>
    public ContactFields? Call { get; private set; }

    /// <summary>Why what was typed was refused.</summary>
    public ContactAnswer? Problem { get; private set; }

    public Task<IActionResult> OnGetAsync(CancellationToken ct) => ShowAsync(null, ct);

    private async Task<IActionResult> ShowAsync(ContactForm? typed, CancellationToken ct)
    {
        if (await records.AsOfAsync(new(Id), asOf.Date, ct) is not { } record) return NotFound();
        Record = record;
        if (asOf.IsToday && !record.ByGlass) Call = await CallAsync(record, typed, ct);
        CaseWorker = asOf.IsToday ? await assign.OfAsync(new(Id), ct) : null;
        return Page();
    }

    private async Task<ContactFields> CallAsync(OpenedRecord record, ContactForm? typed, CancellationToken ct)
    {
        var standing = await appointing.StandingAsync(new(Id), ct);
        var places = await sites.ActiveAsync(ct);
        Booked = standing.ConvertAll(a => ContactWords.Of(a, places));
        var ahead = standing.FindAll(a => a.AppointmentOn >= asOf.Today);
        var form = typed ?? new ContactForm
        {
            Key = Guid.CreateVersion7(),
            Step = ahead.FirstOrDefault()?.Step ?? record.LikelyStep,
            AttemptedOn = asOf.Today,
        };
        var booked = ahead.Find(a => a.Step == form.Step)?.AppointmentOn;
        return new(form with { BookedOn = booked }, places, await openings.AheadAsync(ct), "record");
    }

    public async Task<IActionResult> OnPostContactAsync([FromForm] ContactForm form, CancellationToken ct)
    {
        var answer = await contact.AddAsync(new(Id), ModelState.IsValid ? form : null, ct);
        if (answer is ContactAnswer.NoSuchInfant or ContactAnswer.Recorded or ContactAnswer.Already) return Said(answer);
        // What was typed is not lost.
        Problem = answer;
        Response.StatusCode = answer is ContactAnswer.BookedMeanwhile or ContactAnswer.OpeningTaken
            ? StatusCodes.Status409Conflict : StatusCodes.Status422UnprocessableEntity;
        return await ShowAsync(form, ct);
    }

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
