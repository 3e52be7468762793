using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Record;

/// <summary>One attempt to reach a family, as entered on a page.</summary>
public sealed record ContactForm
{
    public PathStep Step { get; init; }
    public ContactOutcome Outcome { get; init; }
    public DateOnly AttemptedOn { get; init; }
}

/// <summary>What became of a contact attempt sent by a page. Nothing is written but for the first two.</summary>
public enum ContactAnswer
{
    Recorded,
    TakenBack,

    /// <summary>Or one of another site: the answer is the same.</summary>
    NoSuchInfant,
    NotUnderstood,
    BirthUnknown,
    InTheFuture,
    BeforeBirth,
    UnknownCode,

    /// <summary>It came in a submission, or belongs to another site.</summary>
    NotOurs,
}

/// <summary>Records a contact attempt made by whoever is signed in, or takes one back. A fact is never deleted: taking back
/// closes it. The status is recomputed in the same transaction.</summary>
public sealed class RecordContact(RegistryDb db, ProgramClock clock, PolicyStore policies, Viewer viewer)
{
    /// <param name="infant">About whom.</param>
    /// <param name="form">Null when what was sent cannot be read.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<ContactAnswer> AddAsync(InfantId infant, ContactForm? form, CancellationToken ct)
    {
        if (!await IsVisibleAsync(infant, ct)) return ContactAnswer.NoSuchInfant;
        if (form is null) return ContactAnswer.NotUnderstood;
        var born = await db.InfantStatuses.Where(s => s.InfantId == infant).Select(s => new { s.BornOn, s.ResponsibleSiteId })
            .SingleOrDefaultAsync(ct);
        if (born is null) return ContactAnswer.BirthUnknown;
        if (form.AttemptedOn > clock.Today) return ContactAnswer.InTheFuture;
        if (form.AttemptedOn < born.BornOn) return ContactAnswer.BeforeBirth;
        if (!Enum.IsDefined(form.Step) || !Enum.IsDefined(form.Outcome)) return ContactAnswer.UnknownCode;
        db.Contacts.Add(new()
        {
            Id = Guid.CreateVersion7(),
            InfantId = infant,
            // A coordinator calls on behalf of the site that owns the next step.
            SiteId = viewer.SiteId ?? born.ResponsibleSiteId,
            RecordedAt = clock.Now,
            Step = form.Step,
            AttemptedOn = form.AttemptedOn,
            Outcome = form.Outcome,
        });
        await SaveAsync(infant, ct);
        return ContactAnswer.Recorded;
    }

    /// <summary>Only attempts entered on a page, by the own site (or by a coordinator), can be taken back.</summary>
    public async Task<ContactAnswer> TakeBackAsync(InfantId infant, Guid factId, CancellationToken ct)
    {
        if (!await IsVisibleAsync(infant, ct)) return ContactAnswer.NoSuchInfant;
        var fact = await db.Contacts.SingleOrDefaultAsync(
            c => c.Id == factId && c.InfantId == infant && c.SupersededAt == null && c.SubmissionId == null, ct);
        if (fact is null || !viewer.MayTakeBackFor(fact.SiteId)) return ContactAnswer.NotOurs;
        fact.SupersededAt = clock.Now;
        await SaveAsync(infant, ct);
        return ContactAnswer.TakenBack;
    }

    /// <remarks>A record that is open by a broken glass is read only: what a site writes about an infant would show it for good.</remarks>
    private Task<bool> IsVisibleAsync(InfantId infant, CancellationToken ct) =>
        db.VisibleInfants(viewer with { Glasses = [] }).AnyAsync(i => i.Id == infant, ct);

    private async Task SaveAsync(InfantId infant, CancellationToken ct)
    {
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        await db.SaveChangesAsync(ct);
        var policy = await policies.InForceAsync(clock.Today, ct);
        await RecomputeStatuses.ForInfantsAsync(
            (NpgsqlConnection)db.Database.GetDbConnection(), [infant.Value], clock.Today, policy, ct);
        await transaction.CommitAsync(ct);
    }
}
