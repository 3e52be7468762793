using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>One infant's record: where the infant stands and why, what is due, and every fact it stands on.</summary>
[ShowsInfants]
public sealed class InfantPageModel(OpenRecord records, RecordContact contact, AsOf asOf) : PageModel
{
    [FromRoute]
    public Guid Id { get; set; }

    public OpenedRecord Record { get; private set; } = null!;

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (await records.AsOfAsync(new(Id), asOf.Date, ct) is not { } record) return NotFound();
        Record = record;
        return Page();
    }

    public async Task<IActionResult> OnPostContactAsync([FromForm] ContactForm form, CancellationToken ct) =>
        Said(await contact.AddAsync(new(Id), ModelState.IsValid ? form : null, ct));

    public async Task<IActionResult> OnPostTakeBackAsync([FromForm] Guid factId, CancellationToken ct) =>
        Said(await contact.TakeBackAsync(new(Id), factId, ct));

    private IActionResult Said(ContactAnswer answer)
    {
        if (answer == ContactAnswer.NoSuchInfant) return NotFound();
        TempData[answer is ContactAnswer.Recorded or ContactAnswer.TakenBack ? "Done" : "Problem"] = ContactWords.OnRecord(answer);
        return LocalRedirect($"/infants/{Id}");
    }
}
