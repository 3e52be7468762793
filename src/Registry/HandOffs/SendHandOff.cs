using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.Platform.Encryption;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.HandOffs;

/// <summary>A hand-off as a page sends it.</summary>
public sealed record HandOffForm
{
    /// <summary>The code of a <see cref="HandOffKind"/>.</summary>
    public string? Kind { get; init; }

    /// <summary>The code of the site it goes to.</summary>
    public string? ToSite { get; init; }

    /// <summary>Who it goes to, where that is no site.</summary>
    public string? ToName { get; init; }

    /// <summary>The person there whom it is for; empty: nobody named.</summary>
    public string? ForWhom { get; init; }
    public PathStep? Step { get; init; }
    public DateOnly? ConsentOn { get; init; }

    /// <summary>Made with the form: sent twice it is one.</summary>
    public Guid? Key { get; init; }
}

/// <summary>What became of what was sent about a hand-off. Nothing is written but for the first two.</summary>
public enum HandOffAnswer
{
    Sent,
    Recorded,

    /// <summary>The same form had come before.</summary>
    Already,

    /// <summary>Or one of another site: the answer is the same.</summary>
    NoSuchInfant,
    NoSuchHandOff,
    NotUnderstood,
    ChooseSite,
    SayWho,
    ConsentInTheFuture,

    /// <summary>One to the same place stands.</summary>
    Stands,

    /// <summary>It came back, was withdrawn, or is further on than that.</summary>
    NotOpen,
    SayWhy,
}

/// <summary>Hands an infant to a clinic, a program, a medical home or another state.</summary>
public sealed class SendHandOff(
    RegistryDb db, WriteForInfant write, PolicyStore policies, ProgramClock clock, Viewer viewer, AuditActs audit)
{
    public const string NamePlace = "hand_offs.to_name", PersonPlace = "hand_offs.for_whom";
    public const int LongestName = 120;

    /// <summary>Who may hand an infant on that they see.</summary>
    public bool IsAllowed => viewer.PersonId is not null && viewer.Role is not (null or Role.VitalRecords);

    /// <param name="infant">Who.</param>
    /// <param name="form">Null when what was sent cannot be read.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<HandOffAnswer> RunAsync(InfantId infant, HandOffForm? form, CancellationToken ct)
    {
        if (!IsAllowed || !await write.MayAsync(infant, ct)) return HandOffAnswer.NoSuchInfant;
        if (form is not { Step: { } step, Key: { } key } || !Enum.IsDefined(step) || !Codes.TryParse<HandOffKind>(form.Kind, out var kind))
            return HandOffAnswer.NotUnderstood;
        if (form.ConsentOn > clock.Today) return HandOffAnswer.ConsentInTheFuture;
        var toSite = IsToSite(kind) ? await SiteAsync(kind, form.ToSite, ct) : null;
        if (IsToSite(kind) && toSite is null) return HandOffAnswer.ChooseSite;
        var name = form.ToName?.Trim() ?? "";
        var person = IsToSite(kind) ? form.ForWhom?.Trim() : null;
        if (!IsToSite(kind) && name.Length is 0 or > LongestName || person?.Length > LongestName) return HandOffAnswer.SayWho;
        if (await OwnerAsync(infant, ct) is not { } owner) return HandOffAnswer.NoSuchInfant;
        var days = (await policies.InForceAsync(clock.Today, ct)).AcknowledgeDays;
        var handOff = new HandOff
        {
            Id = Guid.CreateVersion7(),
            InfantId = infant,
            Kind = kind,
            Step = step,
            ToSiteId = toSite,
            ToName = toSite is null ? FieldKeys.OfProcess.Encrypt(name, NamePlace) : null,
            ForWhom = FieldKeys.OfProcess.Encrypt(string.IsNullOrEmpty(person) ? null : person, PersonPlace),
            SentAt = clock.Now,
            SentBy = viewer.PersonId!.Value,
            SentAs = viewer.Role!.Value,
            SentForSiteId = viewer.SiteId ?? owner,
            AcknowledgeBy = clock.Today.AddDays(days),
            ConsentOn = form.ConsentOn,
            ShownToSiteId = ShownTo(kind, toSite, form.ConsentOn),
            FormKey = key,
        };
        var answer = await write.RunAsync(infant, () => WriteAsync(handOff, ct), ct);
        if (answer == HandOffAnswer.Sent)
            await audit.RecordAsync(AccessKind.HandedOff, handOff.Id, Codes.Of(HandOffAct.Sent), infant: infant);
        return answer;
    }

    public static bool IsToSite(HandOffKind kind) => kind is HandOffKind.Clinic or HandOffKind.InterventionProgram;

    /// <summary>Which site sees the infant by a hand-off. An early-intervention program does not before the family's written consent to
    /// the exchange (34 CFR 303.401(a)); a clinic that is to test or treat needs none by federal law (45 CFR 164.506(c); from memory).
    /// Local law and the program's counsel decide.</summary>
    public static SiteId? ShownTo(HandOffKind kind, SiteId? site, DateOnly? consentOn) =>
        kind == HandOffKind.Clinic || consentOn is not null ? site : null;

    private async Task<HandOffAnswer> WriteAsync(HandOff handOff, CancellationToken ct)
    {
        if (await db.HandOffs.AnyAsync(h => h.FormKey == handOff.FormKey, ct)) return HandOffAnswer.Already;
        if (await db.HandOffs.AnyAsync(h => h.InfantId == handOff.InfantId && h.SupersededAt == null && h.Kind == handOff.Kind
            && h.ToSiteId == handOff.ToSiteId, ct)) return HandOffAnswer.Stands;
        db.HandOffs.Add(handOff);
        db.HandOffEvents.Add(new()
        {
            HandOffId = handOff.Id,
            Act = HandOffAct.Sent,
            At = handOff.SentAt,
            PersonId = handOff.SentBy,
            Role = handOff.SentAs,
            SiteId = viewer.SiteId,
        });
        await StateFactAsync(handOff, ct);
        return HandOffAnswer.Sent;
    }

    /// <summary>What the rules ask for, a referral to early intervention or that another state was told, is a fact like any other, under
    /// the hand-off's own id: taken back as a mistake, it goes with it.</summary>
    private async Task StateFactAsync(HandOff handOff, CancellationToken ct)
    {
        if (handOff.Kind == HandOffKind.InterventionProgram && !await db.Interventions.AnyAsync(i => i.InfantId == handOff.InfantId
            && i.Kind == InterventionKind.Referred && i.SupersededAt == null, ct))
            db.Interventions.Add(new()
            {
                Id = handOff.Id,
                InfantId = handOff.InfantId,
                SiteId = handOff.SentForSiteId,
                RecordedAt = handOff.SentAt,
                Kind = InterventionKind.Referred,
                HappenedOn = clock.Today,
            });
        if (handOff.Kind == HandOffKind.OtherState)
            db.Moves.Add(new()
            {
                Id = handOff.Id,
                InfantId = handOff.InfantId,
                SiteId = handOff.SentForSiteId,
                RecordedAt = handOff.SentAt,
                Kind = MoveKind.HandedOff,
                MovedOn = clock.Today,
            });
    }

    private async Task<SiteId?> SiteAsync(HandOffKind kind, string? code, CancellationToken ct)
    {
        var site = await db.Sites.AsNoTracking().SingleOrDefaultAsync(s => s.Code == code && s.Active, ct);
        return site is not null && site.Id != viewer.SiteId && Takes(kind, site.Kind) ? site.Id : null;
    }

    /// <summary>Whether an infant is handed to a site of that kind by a hand-off of this one.</summary>
    public static bool Takes(HandOffKind kind, SiteKind site) => kind == HandOffKind.InterventionProgram
        ? site == SiteKind.InterventionProgram : site is not (SiteKind.InterventionProgram or SiteKind.VitalRecords);

    /// <summary>The site that owns the next step: the program's own people hand off on its behalf.</summary>
    private Task<SiteId?> OwnerAsync(InfantId infant, CancellationToken ct) => db.InfantStatuses
        .Where(s => s.InfantId == infant).Select(s => (SiteId?)s.ResponsibleSiteId).SingleOrDefaultAsync(ct);
}
