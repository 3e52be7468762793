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

/// <summary>Records a contact attempt made by whoever is signed in, or takes one back. A fact is never deleted: taking back
/// closes it. The status is recomputed in the same transaction.</summary>
public sealed class RecordContact(RegistryDb db, ProgramClock clock, PolicyStore policies)
{
    /// <returns>Null when recorded; else why not, in words.</returns>
    public async Task<string?> AddAsync(InfantId infant, ContactForm form, Viewer viewer, CancellationToken ct)
    {
        var born = await db.InfantStatuses.Where(s => s.InfantId == infant).Select(s => new { s.BornOn, s.ResponsibleSiteId })
            .SingleOrDefaultAsync(ct);
        if (born is null) return "The birth of this infant is not known yet, so nothing can be recorded.";
        if (form.AttemptedOn > clock.Today) return "The day of the attempt lies in the future. Nothing was recorded.";
        if (form.AttemptedOn < born.BornOn) return "The day of the attempt lies before the birth. Nothing was recorded.";
        if (!Enum.IsDefined(form.Step) || !Enum.IsDefined(form.Outcome))
            return "The step or the outcome is not one we know. Nothing was recorded.";

        // A coordinator calls on behalf of the site that owns the next step.
        await WriteAsync(infant, async () =>
        {
            db.Contacts.Add(new()
            {
                Id = Guid.CreateVersion7(),
                InfantId = infant,
                SiteId = viewer.SiteId ?? born.ResponsibleSiteId,
                RecordedAt = clock.Now,
                Step = form.Step,
                AttemptedOn = form.AttemptedOn,
                Outcome = form.Outcome,
            });
            await db.SaveChangesAsync(ct);
        }, ct);
        return null;
    }

    /// <summary>True when it was closed. Only attempts entered on a page, by the own site (or by a coordinator), can be.</summary>
    public async Task<bool> TakeBackAsync(InfantId infant, Guid factId, Viewer viewer, CancellationToken ct)
    {
        var fact = await db.Contacts.SingleOrDefaultAsync(
            c => c.Id == factId && c.InfantId == infant && c.SupersededAt == null && c.SubmissionId == null, ct);
        if (fact is null || !viewer.MaySubmitFor(fact.SiteId)) return false;
        await WriteAsync(infant, async () =>
        {
            fact.SupersededAt = clock.Now;
            await db.SaveChangesAsync(ct);
        }, ct);
        return true;
    }

    private async Task WriteAsync(InfantId infant, Func<Task> write, CancellationToken ct)
    {
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        await write();
        var policy = await policies.InForceAsync(clock.Today, ct);
        await RecomputeStatuses.ForInfantsAsync(
            (NpgsqlConnection)db.Database.GetDbConnection(), [infant.Value], clock.Today, policy, ct);
        await transaction.CommitAsync(ct);
    }
}
