using Microsoft.EntityFrameworkCore;
using Registry.Access;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Work;

namespace Registry.Searching;

/// <summary>
/// Ends the work about the step an infant's family is called about, with a reason of the national survey, or opens it again. It changes no
/// figure: those follow what is recorded. What is a fact (a death, a move, a refusal, a medical reason) is entered as one and ends the work
/// by itself. Whatever is reported later opens it again (<see cref="Closed"/>).
/// </summary>
public sealed class CloseWork(
    RegistryDb db, WriteForInfant write, PolicyStore policies, ProgramClock clock, Viewer viewer, AuditActs audit)
{
    public bool IsAllowed => viewer.PersonId is not null && (viewer.IsCoordinator || viewer.IsCaseWorker);

    /// <param name="infant">Whose.</param>
    /// <param name="reason">The code of one of <see cref="Closed.Reasons"/>.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<SearchAnswer> RunAsync(InfantId infant, string? reason, CancellationToken ct)
    {
        if (!IsAllowed || !await write.MayAsync(infant, ct)) return SearchAnswer.NoSuchInfant;
        if (!Codes.TryParse<SurveyCategory>(reason, out var why) || !Closed.Reasons.Contains(why)) return SearchAnswer.NoReason;
        var tries = (await policies.InForceAsync(clock.Today, ct)).TriesBeforeClosing;
        var answer = await write.RunAsync(infant, async () =>
        {
            if (await db.InfantWork.AsNoTracking().SingleOrDefaultAsync(w => w.InfantId == infant, ct) is not { } work)
                return SearchAnswer.NothingDue;
            // What would be closed is closed already; one that opened by news is closed anew, and the former one ends.
            var former = await db.WorkClosings.SingleOrDefaultAsync(c => c.InfantId == infant && c.ReopenedAt == null, ct);
            if (work.Tray == WorkTray.Closed) return SearchAnswer.ClosedMeanwhile;
            if (why != SurveyCategory.Other && await ProblemAsync(infant, tries, ct) is { } problem) return problem;
            if (former is not null)
            {
                Reopen(former);
                await db.SaveChangesAsync(ct);
            }

            db.WorkClosings.Add(new()
            {
                Id = Guid.CreateVersion7(),
                InfantId = infant,
                Step = WorkPlace.PathOf(work.Step),
                Reason = why,
                ClosedOn = clock.Today,
                ClosedAt = clock.Now,
                ClosedBy = viewer.PersonId!.Value,
                ClosedAs = viewer.Role!.Value,
            });
            return SearchAnswer.Closed;
        }, ct);
        if (answer == SearchAnswer.Closed) await audit.RecordAsync(AccessKind.WorkClosed, note: Codes.Of(why), infant: infant);
        return answer;
    }

    public async Task<SearchAnswer> ReopenAsync(InfantId infant, CancellationToken ct)
    {
        if (!IsAllowed || !await write.MayAsync(infant, ct)) return SearchAnswer.NoSuchInfant;
        var answer = await write.RunAsync(infant, async () =>
        {
            if (await db.WorkClosings.SingleOrDefaultAsync(c => c.InfantId == infant && c.ReopenedAt == null, ct) is not { } closing)
                return SearchAnswer.ClosedMeanwhile;
            Reopen(closing);
            return SearchAnswer.Reopened;
        }, ct);
        if (answer == SearchAnswer.Reopened) await audit.RecordAsync(AccessKind.WorkClosed, note: "opened_again", infant: infant);
        return answer;
    }

    private void Reopen(WorkClosing closing)
    {
        closing.ReopenedAt = clock.Now;
        closing.ReopenedBy = viewer.PersonId;
    }

    /// <summary>Nobody is given up before they were tried and searched for.</summary>
    private async Task<SearchAnswer?> ProblemAsync(InfantId infant, int tries, CancellationToken ct)
    {
        if (await db.Contacts.CountAsync(c => c.InfantId == infant && c.SupersededAt == null, ct) < tries) return SearchAnswer.TooFewTries;
        return await db.Searches.AnyAsync(s => s.InfantId == infant && s.SupersededAt == null, ct) ? null : SearchAnswer.SearchFirst;
    }
}
