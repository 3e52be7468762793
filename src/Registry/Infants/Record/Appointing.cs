using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Work;

namespace Registry.Infants.Record;

/// <summary>What became of an appointment, as entered on a page.</summary>
public sealed record AppointmentForm
{
    public PathStep Step { get; init; }
    public DateOnly AppointmentOn { get; init; }

    /// <summary>Null: none was chosen.</summary>
    public AppointmentEvent? Kind { get; init; }
    public Guid? Key { get; init; }
}

public enum AppointmentAnswer
{
    Recorded,
    Already,
    NoSuchInfant,
    NotUnderstood,

    /// <summary>There is no such appointment, or something became of it meanwhile.</summary>
    NotBooked,

    /// <summary>Nobody came, or missed it, before its day.</summary>
    NotYet,
}

/// <summary>Books appointments, moves them, and says what became of them. Each is a fact that stays readable.</summary>
public sealed class Appointing(RegistryDb db, WriteForInfant write, OfferOpenings openings, ProgramClock clock, Viewer viewer)
{
    public async Task<AppointmentAnswer> EndAsync(InfantId infant, AppointmentForm? form, CancellationToken ct)
    {
        if (!await write.MayAsync(infant, ct)) return AppointmentAnswer.NoSuchInfant;
        if (form is not { Kind: AppointmentEvent.Kept or AppointmentEvent.NoShow or AppointmentEvent.Cancelled })
            return AppointmentAnswer.NotUnderstood;
        if (form.Kind != AppointmentEvent.Cancelled && form.AppointmentOn > clock.Today) return AppointmentAnswer.NotYet;
        return await write.RunAsync(infant, async () =>
        {
            if (form.Key is { } key && await db.Appointments.AnyAsync(a => a.FormKey == key, ct)) return AppointmentAnswer.Already;
            var standing = (await StandingAsync(infant, ct)).Find(a => a.Step == form.Step && a.AppointmentOn == form.AppointmentOn);
            if (standing is null) return AppointmentAnswer.NotBooked;
            db.Appointments.Add(Event(standing, form.Kind.Value, clock.Today, form.Key));
            return AppointmentAnswer.Recorded;
        }, ct);
    }

    /// <summary>Books one within the caller's transaction. Another of the same step that is still ahead is moved.</summary>
    /// <param name="made">The appointment.</param>
    /// <param name="known">The day of the one the person saw.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>False when there is another one than that by now.</returns>
    internal async Task<bool> BookAsync(AppointmentRecord made, DateOnly? known, CancellationToken ct)
    {
        var ahead = (await StandingAsync(made.InfantId, ct)).FindAll(a => a.Step == made.Step && a.AppointmentOn >= clock.Today);
        if (ahead.Select(a => (DateOnly?)a.AppointmentOn).Order().FirstOrDefault() != known) return false;
        foreach (var old in ahead.Where(a => a.AppointmentOn != made.AppointmentOn))
            db.Appointments.Add(Event(old, AppointmentEvent.Moved, made.HappenedOn, made.FormKey));
        // Moved away and back within a day: what closed it no longer holds.
        foreach (var closing in await db.Appointments.Where(a => a.InfantId == made.InfantId && a.Step == made.Step
            && a.AppointmentOn == made.AppointmentOn && a.SupersededAt == null && a.SubmissionId == null
            && a.Kind != AppointmentEvent.Made && a.HappenedOn >= made.HappenedOn).ToListAsync(ct)) closing.SupersededAt = clock.Now;
        db.Appointments.Add(made);
        return true;
    }

    /// <summary>Takes back what the viewer entered with a form, within the caller's transaction.</summary>
    /// <returns>How many; null, and nothing is changed, when an appointment would stand again whose place somebody took
    /// meanwhile.</returns>
    internal async Task<int?> TakeBackAsync(InfantId infant, Guid key, CancellationToken ct)
    {
        var facts = await db.Appointments
            .Where(a => a.InfantId == infant && a.FormKey == key && a.SupersededAt == null && a.SubmissionId == null).ToListAsync(ct);
        facts.RemoveAll(a => a.EnteredBy != viewer.PersonId && !viewer.MayTakeBackFor(a.SiteId));
        if (!await openings.HavePlaceAgainAsync(facts, ct)) return null;
        foreach (var fact in facts) fact.SupersededAt = clock.Now;
        return facts.Count;
    }

    /// <summary>Appointments of an infant the viewer was shown that stand, whether their day has come or not.</summary>
    public async Task<List<AppointmentRecord>> StandingAsync(InfantId infant, CancellationToken ct)
    {
        var all = await db.Appointments.AsNoTracking().Where(a => a.InfantId == infant && a.SupersededAt == null).ToListAsync(ct);
        var known = all.ConvertAll(a => new Appointment(a.Step, a.AppointmentOn, a.Kind, a.HappenedOn));
        return [.. all.Where((_, i) => Appointments.Stands(known[i], known) && !Appointments.IsKept(known[i], known))
            .OrderByDescending(a => a.RecordedAt).DistinctBy(a => (a.Step, a.AppointmentOn)).OrderBy(a => a.AppointmentOn)];
    }

    private AppointmentRecord Event(AppointmentRecord of, AppointmentEvent kind, DateOnly on, Guid? key) => new()
    {
        Id = Guid.CreateVersion7(),
        InfantId = of.InfantId,
        SiteId = viewer.SiteId ?? of.SiteId,
        RecordedAt = clock.Now,
        Step = of.Step,
        AppointmentOn = of.AppointmentOn,
        Kind = kind,
        HappenedOn = on,
        AppointmentTime = of.AppointmentTime,
        AppointmentSiteId = of.AppointmentSiteId,
        AppointmentPlace = of.AppointmentPlace,
        EnteredBy = viewer.PersonId,
        EnteredAs = viewer.Role,
        FormKey = key,
    };
}
