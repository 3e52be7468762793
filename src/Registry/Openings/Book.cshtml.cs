using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Work;
using Registry.Ui;

namespace Registry.Openings;

/// <summary>Books an appointment with the family before one, in a few taps: before discharge, from the ward list.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class BookModel(
    RecordContact contact, Appointing appointing, OfferOpenings openings, OpenRecord records, SiteChoices sites, AsOf asOf, Viewer viewer)
    : PageModel
{
    [FromRoute] public Guid Id { get; set; }

    public OpenedRecord Record { get; private set; } = null!;
    public IReadOnlyList<OfferedOpening> Openings { get; private set; } = [];
    public IReadOnlyList<Site> Sites { get; private set; } = [];

    /// <summary>Appointments that stand.</summary>
    public IReadOnlyList<string> Booked { get; private set; } = [];
    public ContactForm Form { get; private set; } = new();
    public ContactAnswer? Problem { get; private set; }

    public Task<IActionResult> OnGetAsync(CancellationToken ct) => ShowAsync(null, ct);

    public async Task<IActionResult> OnPostAsync([FromForm] ContactForm form, CancellationToken ct)
    {
        // The family is there: it was reached, and an appointment made.
        var made = form with { Outcome = ContactOutcome.AppointmentMade, Channel = ContactChannel.InPerson, AttemptedOn = asOf.Today };
        var answer = !ModelState.IsValid || made is { Opening: null, AppointmentOn: null } ? ContactAnswer.AppointmentInvalid
            : await contact.AddAsync(new(Id), made, ct);
        if (answer == ContactAnswer.NoSuchInfant) return NotFound();
        if (answer is ContactAnswer.Recorded or ContactAnswer.Already)
        {
            TempData["Done"] = ContactWords.OnRecord(answer);
            return LocalRedirect(viewer.SiteId is null ? $"/infants/{Id}" : Permissions.HomeOf(viewer.Role));
        }

        Problem = answer;
        Response.StatusCode = answer is ContactAnswer.BookedMeanwhile or ContactAnswer.OpeningTaken
            ? StatusCodes.Status409Conflict : StatusCodes.Status422UnprocessableEntity;
        return await ShowAsync(form, ct);
    }

    private async Task<IActionResult> ShowAsync(ContactForm? form, CancellationToken ct)
    {
        if (await records.AsOfAsync(new(Id), asOf.Today, ct) is not { ByGlass: false } record) return NotFound();
        Record = record;
        var standing = await appointing.StandingAsync(new(Id), ct);
        Sites = await sites.ActiveAsync(ct);
        Booked = standing.ConvertAll(a => ContactWords.Of(a, Sites));
        var step = form?.Step ?? (record.Dues.Count > 0 ? WorkPlace.PathOf(record.Dues[0].Step) : record.LikelyStep);
        var booked = standing.Find(a => a.Step == step && a.AppointmentOn >= asOf.Today);
        Openings = [.. (await openings.AheadAsync(ct)).Where(o => o.Step == step)];
        Form = (form ?? new() { Step = step }) with { Key = Guid.CreateVersion7(), BookedOn = booked?.AppointmentOn };
        return Page();
    }
}
