using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Record;

/// <summary>One attempt to reach a family, as entered on a page; with the appointment that was made, if one was.</summary>
public sealed record ContactForm
{
    public PathStep Step { get; init; }

    /// <summary>Null: none was chosen.</summary>
    public ContactOutcome? Outcome { get; init; }
    public DateOnly AttemptedOn { get; init; }
    public ContactChannel? Channel { get; init; }
    public ContactPerson? Person { get; init; }
    public DateOnly? CallAgainOn { get; init; }
    public string? Note { get; init; }
    /// <summary>The opening of a clinic the appointment is made in; null: of none, and its day is stated.</summary>
    public Guid? Opening { get; init; }
    public DateOnly? AppointmentOn { get; init; }
    public TimeOnly? AppointmentTime { get; init; }
    public string? AppointmentSite { get; init; }
    public string? AppointmentPlace { get; init; }

    /// <summary>The day of the appointment that was booked when the form was opened.</summary>
    public DateOnly? BookedOn { get; init; }

    /// <summary>Made with the form: sent twice it is one attempt.</summary>
    public Guid? Key { get; init; }
}

/// <summary>What became of a contact attempt sent by a page. Nothing is written but for the first three.</summary>
public enum ContactAnswer
{
    Recorded,
    TakenBack,

    /// <summary>The same form had come before.</summary>
    Already,

    /// <summary>Or one of another site: the answer is the same.</summary>
    NoSuchInfant,
    NotUnderstood,
    BirthUnknown,
    NoOutcome,
    InTheFuture,
    BeforeBirth,
    UnknownCode,
    CallAgainInvalid,
    TooLarge,
    AppointmentInvalid,
    AppointmentNotChosen,
    NoSuchSite,
    OpeningAndDay,
    OpeningOfOtherStep,

    /// <summary>Somebody took the last place, or the opening has begun or was withdrawn.</summary>
    OpeningTaken,

    /// <summary>Somebody booked, moved or ended an appointment since the form was opened.</summary>
    BookedMeanwhile,

    /// <summary>It came in a submission, or belongs to another site.</summary>
    NotOurs,
}

/// <summary>Records a contact attempt made by whoever is signed in, or takes one back. A fact is never deleted: taking back
/// closes it. The status is recomputed in the same transaction.</summary>
public sealed class RecordContact(
    RegistryDb db, WriteForInfant write, Appointing appointing, OfferOpenings openings, ProgramClock clock, Viewer viewer)
{
    private const int MostDaysAhead = 731, MostNote = 500, MostPlace = 100;

    /// <param name="infant">About whom.</param>
    /// <param name="form">Null when what was sent cannot be read.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<ContactAnswer> AddAsync(InfantId infant, ContactForm? form, CancellationToken ct)
    {
        if (!await write.MayAsync(infant, ct)) return ContactAnswer.NoSuchInfant;
        if (form is null) return ContactAnswer.NotUnderstood;
        var born = await db.InfantStatuses.Where(s => s.InfantId == infant).Select(s => new { s.BornOn, s.ResponsibleSiteId })
            .SingleOrDefaultAsync(ct);
        if (born is null) return ContactAnswer.BirthUnknown;
        if (Problem(form, born.BornOn) is { } problem) return problem;
        SiteId? at = null;
        if (!string.IsNullOrEmpty(form.AppointmentSite))
        {
            at = await db.Sites.Where(s => s.Code == form.AppointmentSite && s.Active).Select(s => (SiteId?)s.Id).SingleOrDefaultAsync(ct);
            if (at is null) return ContactAnswer.NoSuchSite;
        }

        try
        {
            return await write.RunAsync(infant, () => WriteAsync(infant, form, at, viewer.SiteId ?? born.ResponsibleSiteId, ct), ct);
        }
        catch (DbUpdateException e) when (e.InnerException is PostgresException { SqlState: PostgresErrorCodes.UniqueViolation })
        {
            return ContactAnswer.Already;
        }
    }

    /// <summary>Only attempts entered on a page, by the own site (or by a coordinator), can be taken back.</summary>
    public async Task<ContactAnswer> TakeBackAsync(InfantId infant, Guid factId, CancellationToken ct)
    {
        if (!await write.MayAsync(infant, ct)) return ContactAnswer.NoSuchInfant;
        return await write.RunAsync(infant, async () =>
        {
            var fact = await db.Contacts.SingleOrDefaultAsync(
                c => c.Id == factId && c.InfantId == infant && c.SupersededAt == null && c.SubmissionId == null, ct);
            if (fact is null || !viewer.MayTakeBackFor(fact.SiteId)) return ContactAnswer.NotOurs;
            if (fact.FormKey is { } key && await appointing.TakeBackAsync(infant, key, ct) is null) return ContactAnswer.OpeningTaken;
            fact.SupersededAt = clock.Now;
            return ContactAnswer.TakenBack;
        }, ct);
    }

    /// <summary>Takes back what the viewer entered with a form, a moment ago or at any time.</summary>
    public async Task<ContactAnswer> UndoAsync(InfantId infant, Guid key, CancellationToken ct)
    {
        if (!await write.MayAsync(infant, ct)) return ContactAnswer.NoSuchInfant;
        if (viewer.PersonId is not { } person) return ContactAnswer.NotOurs;
        return await write.RunAsync(infant, async () =>
        {
            var contacts = await db.Contacts
                .Where(c => c.InfantId == infant && c.FormKey == key && c.EnteredBy == person && c.SupersededAt == null).ToListAsync(ct);
            if (await appointing.TakeBackAsync(infant, key, ct) is not { } others) return ContactAnswer.OpeningTaken;
            foreach (var contact in contacts) contact.SupersededAt = clock.Now;
            return contacts.Count + others == 0 ? ContactAnswer.NotOurs : ContactAnswer.TakenBack;
        }, ct);
    }

    private ContactAnswer? Problem(ContactForm form, DateOnly bornOn) => form switch
    {
        { Outcome: null } => ContactAnswer.NoOutcome,
        _ when form.AttemptedOn > clock.Today => ContactAnswer.InTheFuture,
        _ when form.AttemptedOn < bornOn => ContactAnswer.BeforeBirth,
        _ when !Enum.IsDefined(form.Step) || !Enum.IsDefined(form.Outcome!.Value) || form.Channel is { } c && !Enum.IsDefined(c)
            || form.Person is { } p && !Enum.IsDefined(p) => ContactAnswer.UnknownCode,
        { CallAgainOn: { } again } when again < form.AttemptedOn || again > clock.Today.AddDays(MostDaysAhead) =>
            ContactAnswer.CallAgainInvalid,
        _ when form.Note?.Length > MostNote || form.AppointmentPlace?.Length > MostPlace => ContactAnswer.TooLarge,
        { AppointmentOn: { } on } when on < form.AttemptedOn || on > clock.Today.AddDays(MostDaysAhead) => ContactAnswer.AppointmentInvalid,
        { AppointmentOn: not null, Opening: not null } => ContactAnswer.OpeningAndDay,
        { Outcome: not ContactOutcome.AppointmentMade } when form.AppointmentOn is not null || form.Opening is not null =>
            ContactAnswer.AppointmentNotChosen,
        _ => null,
    };

    private async Task<ContactAnswer> WriteAsync(InfantId infant, ContactForm form, SiteId? at, SiteId site, CancellationToken ct)
    {
        if (form.Key is { } key && await db.Contacts.AnyAsync(c => c.FormKey == key, ct)) return ContactAnswer.Already;
        if (await BookAsync(infant, form, at, site, ct) is { } problem) return problem;
        db.Contacts.Add(new()
        {
            Id = Guid.CreateVersion7(),
            InfantId = infant,
            // The program's own people call on behalf of the site that owns the next step; who and in which role is kept beside it.
            SiteId = site,
            RecordedAt = clock.Now,
            Step = form.Step,
            AttemptedOn = form.AttemptedOn,
            Outcome = form.Outcome!.Value,
            Channel = form.Channel,
            Person = form.Person,
            CallAgainOn = form.CallAgainOn,
            Note = FieldKeys.OfProcess.Encrypt(Text(form.Note), "contacts.note"),
            EnteredBy = viewer.PersonId,
            EnteredAs = viewer.Role,
            FormKey = form.Key,
        });
        return ContactAnswer.Recorded;
    }

    /// <summary>Makes the appointment of a form, if it states one: in an opening, whose place is taken, or on a day of its own.</summary>
    private async Task<ContactAnswer?> BookAsync(InfantId infant, ContactForm form, SiteId? at, SiteId site, CancellationToken ct)
    {
        if (form is { AppointmentOn: null, Opening: null }) return null;
        var opening = form.Opening is { } chosen ? await openings.TakeAsync(chosen, ct) : null;
        if (form.Opening is not null && opening is null) return ContactAnswer.OpeningTaken;
        if (opening is not null && opening.Step != form.Step) return ContactAnswer.OpeningOfOtherStep;
        var made = new AppointmentRecord
        {
            Id = Guid.CreateVersion7(),
            InfantId = infant,
            SiteId = site,
            RecordedAt = clock.Now,
            Step = form.Step,
            AppointmentOn = opening?.OpensOn ?? form.AppointmentOn!.Value,
            Kind = AppointmentEvent.Made,
            HappenedOn = form.AttemptedOn,
            AppointmentTime = opening?.StartsAt ?? form.AppointmentTime,
            AppointmentSiteId = opening is null ? at
                : await db.Sites.Where(s => s.Code == opening.SiteCode).Select(s => (SiteId?)s.Id).SingleAsync(ct),
            AppointmentPlace = FieldKeys.OfProcess.Encrypt(Text(form.AppointmentPlace), "appointments.appointment_place"),
            EnteredBy = viewer.PersonId,
            EnteredAs = viewer.Role,
            FormKey = form.Key,
        };
        if (!await appointing.BookAsync(made, form.BookedOn, ct)) return ContactAnswer.BookedMeanwhile;
        if (opening is not null) db.BookedOpenings.Add(new() { AppointmentId = made.Id, OpeningId = opening.Id, InfantId = infant });
        return null;
    }

    private static string? Text(string? typed) => string.IsNullOrWhiteSpace(typed) ? null : typed.Trim();
}
