using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Openings;

/// <summary>An opening as somebody states it: on a page, or in a file.</summary>
public sealed record StatedOpening(DateOnly OpensOn, TimeOnly StartsAt, int Minutes, int Capacity, PathStep Step);

/// <summary>What became of what was stated.</summary>
/// <param name="Added">So many are new; the others stood already.</param>
/// <param name="Problem">Null: all of it stands.</param>
public sealed record StatedAnswer(int Added, string? Problem);

/// <summary>States when a clinic sees children, and withdraws it. A clinic states its own; coordinators anybody's. What is stated again is
/// one; whoever was booked into an opening that is withdrawn keeps the appointment.</summary>
public sealed class StateOpenings(RegistryDb db, ProgramClock clock, Viewer viewer, AuditActs audit)
{
    public const int MostWeeks = 26, MostCapacity = 50, ShortestMinutes = 5, LongestMinutes = 480;

    /// <summary>Ahead; a year is more than any calendar is kept.</summary>
    public const int MostDaysAhead = 366;

    /// <summary>At once.</summary>
    public const int Most = 1_000;

    /// <summary>The clinic whose openings the viewer states: the own, or for a coordinator the one that is asked for.</summary>
    /// <returns>Null for whoever states none, or for a site there is not.</returns>
    public async Task<Site?> ClinicAsync(string? code, CancellationToken ct)
    {
        if (viewer.PersonId is null) return null;
        if (viewer.IsCoordinator)
            return await db.Sites.AsNoTracking().SingleOrDefaultAsync(
                s => s.Code == code && s.Active && s.Kind != SiteKind.VitalRecords, ct);
        if (viewer.Role is not (Role.AudiologyClinic or Role.SiteManager) || viewer.SiteId is not { } own) return null;
        return await db.Sites.AsNoTracking().SingleOrDefaultAsync(s => s.Id == own && s.Active && (code == null || s.Code == code), ct);
    }

    /// <summary>Everything, or with a problem nothing.</summary>
    public async Task<StatedAnswer> RunAsync(Site clinic, IReadOnlyList<StatedOpening> stated, CancellationToken ct)
    {
        if (stated.Select(Problem).FirstOrDefault(p => p is not null) is { } problem) return new(0, problem);
        if (stated.Count is 0 or > Most) return new(0, OpeningWords.HowMany);
        await using var transaction = await db.Database.BeginTransactionAsync(ct);
        var added = 0;
        foreach (var o in stated)
            added += await db.Database.ExecuteSqlAsync(
                $"""
                insert into clinic_openings (id, site_id, step, opens_on, starts_at, minutes, capacity, recorded_at, entered_by)
                values ({Guid.CreateVersion7()}, {clinic.Id.Value}, {Codes.Of(o.Step)}, {o.OpensOn}, {o.StartsAt}, {o.Minutes},
                        {o.Capacity}, {clock.Now}, {viewer.PersonId!.Value})
                on conflict do nothing
                """, ct);
        await transaction.CommitAsync(ct);
        await audit.RecordAsync(AccessKind.OpeningsStated, clinic.Id.Value, $"added_{added}");
        return new(added, null);
    }

    /// <summary>One day of the week for some weeks.</summary>
    public static IReadOnlyList<StatedOpening> Weekly(StatedOpening first, int weeks) =>
        [.. Enumerable.Range(0, Math.Clamp(weeks, 1, MostWeeks)).Select(week => first with { OpensOn = first.OpensOn.AddDays(7 * week) })];

    /// <returns>False when there is no such opening that stands and is the viewer's.</returns>
    public async Task<bool> WithdrawAsync(Guid id, CancellationToken ct)
    {
        var clinic = await (from o in db.ClinicOpenings
                            join s in db.Sites on o.SiteId equals s.Id
                            where o.Id == id && o.WithdrawnAt == null
                            select s.Code).SingleOrDefaultAsync(ct);
        if (clinic is null || await ClinicAsync(clinic, ct) is not { } own) return false;
        var now = clock.Now;
        if (await db.ClinicOpenings.Where(o => o.Id == id && o.SiteId == own.Id && o.WithdrawnAt == null).ExecuteUpdateAsync(
            u => u.SetProperty(o => o.WithdrawnAt, now).SetProperty(o => o.WithdrawnBy, viewer.PersonId), ct) == 0) return false;
        await audit.RecordAsync(AccessKind.OpeningsStated, id, "withdrawn");
        return true;
    }

    private string? Problem(StatedOpening stated) => stated switch
    {
        _ when stated.OpensOn < clock.Today || stated.OpensOn > clock.Today.AddDays(MostDaysAhead) => OpeningWords.Day,
        { Minutes: < ShortestMinutes or > LongestMinutes } => OpeningWords.Length,
        { Capacity: < 1 or > MostCapacity } => OpeningWords.Capacity,
        _ when !Enum.IsDefined(stated.Step) || stated.Step == PathStep.Intervention => OpeningWords.Step,
        _ => null,
    };
}
