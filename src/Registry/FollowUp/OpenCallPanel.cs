using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Work;
using Registry.Ui;

namespace Registry.FollowUp;

/// <summary>A try to reach the family, as the panel shows it.</summary>
/// <param name="By">Who called, for what office; null when a submission reported it.</param>
public sealed record PanelContact(
    DateOnly On, ContactOutcome Outcome, ContactPerson? Person, ContactChannel? Channel, string? Note, string? By);

/// <summary>What stands beside the list: one infant, and the form of a call.</summary>
/// <param name="Booked">The next appointment; null when none is ahead.</param>
/// <param name="Passed">One that has passed and of which it is not said what became.</param>
/// <param name="PutOff">Until when it is put off, and why.</param>
/// <param name="Sites">Where an appointment can be.</param>
/// <param name="Openings">What clinics have open.</param>
public sealed record CallPanel(
    WorkRow Row, IReadOnlyList<PanelContact> Contacts, AppointmentRecord? Booked, AppointmentRecord? Passed, WorkPutOff? PutOff,
    IReadOnlyList<Site> Sites, IReadOnlyList<OfferedOpening> Openings)
{
    /// <summary>Who may be called, and who may not.</summary>
    public required FamilyNow Family { get; init; }

    /// <summary>What the form holds: nothing chosen, or what was typed and refused.</summary>
    public required ContactForm Form { get; init; }
    public ContactAnswer? Problem { get; init; }
}

/// <summary>Opens the panel of one infant for a viewer. The page records the read.</summary>
public sealed class OpenCallPanel(
    ListWork list, ViewerDatabase data, Appointing appointing, OfferOpenings openings, RegistryDb rows, SiteChoices sites,
    ProgramClock clock, Viewer viewer)
{
    private const int ShownContacts = 3;

    /// <returns>Null for an infant the viewer does not see, or about whom nothing is due.</returns>
    public async Task<CallPanel?> OfAsync(InfantId infant, CancellationToken ct)
    {
        if (await list.OneAsync(infant, viewer, ct) is not { } row) return null;
        await using var db = await data.OpenDbAsync(viewer, ct);
        var contacts = await db.Contacts.AsNoTracking().Where(c => c.InfantId == infant && c.SupersededAt == null)
            .OrderByDescending(c => c.AttemptedOn).ThenByDescending(c => c.RecordedAt).Take(ShownContacts).ToListAsync(ct);
        var putOff = await db.WorkPutOffs.AsNoTracking().SingleOrDefaultAsync(
            p => p.InfantId == infant && p.EndedAt == null && p.UntilOn > clock.Today, ct);
        var standing = await appointing.StandingAsync(infant, ct);
        var booked = standing.Find(a => a.AppointmentOn >= clock.Today);
        return new(row, await SaidAsync(contacts, ct), booked, standing.FindLast(a => a.AppointmentOn < clock.Today), putOff,
            await sites.ActiveAsync(ct), await openings.AheadAsync(ct))
        {
            Family = await ReadFamilyNow.OfAsync(data, viewer, infant, ct),
            Form = new()
            {
                Key = Guid.CreateVersion7(),
                Step = WorkPlace.PathOf(row.Step),
                AttemptedOn = clock.Today,
                BookedOn = booked?.AppointmentOn,
            },
        };
    }

    private async Task<IReadOnlyList<PanelContact>> SaidAsync(List<ContactRecord> contacts, CancellationToken ct)
    {
        var callers = contacts.Select(c => c.EnteredBy).OfType<Guid>().ToList();
        var names = await rows.Users.AsNoTracking().Where(p => callers.Contains(p.Id)).ToDictionaryAsync(p => p.Id, p => p.DisplayName, ct);
        var offices = contacts.ConvertAll(c => c.SiteId);
        var places = await rows.Sites.AsNoTracking().Where(s => offices.Contains(s.Id)).ToDictionaryAsync(s => s.Id, s => s.Name, ct);
        return contacts.ConvertAll(c => new PanelContact(
            c.AttemptedOn, c.Outcome, c.Person, c.Channel, FieldKeys.OfProcess.Decrypt(c.Note, "contacts.note"),
            c.EnteredBy is { } by ? ContactWords.By(names.GetValueOrDefault(by), c.EnteredAs, places.GetValueOrDefault(c.SiteId)) : null));
    }
}
