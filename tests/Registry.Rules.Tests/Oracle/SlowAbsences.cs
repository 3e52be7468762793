using Registry.Rules.Facts;
using static Registry.Rules.Tests.Oracle.KnownFacts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>Why a step is not asked of a family, and since when.</summary>
internal readonly record struct Absent(string Why, DateOnly From);

/// <summary>
/// Section 6: died, left, declined, straight to diagnostic, not eligible. Source: the reasons of the CDC's survey (HSFS); that a refusal
/// lasts until it is revoked or the family acts is common practice.
/// </summary>
internal sealed class SlowAbsences(KnownFacts known, SlowScreening screening)
{
    /// <summary>In the order in which they are taken.</summary>
    public Absent? FromScreening => Straight ?? Gone ?? DeclinedFrom(PathStep.Screening);
    public Absent? FromDiagnosis => Gone ?? DeclinedFrom(PathStep.Diagnosis);
    public Absent? FromIntervention =>
        Gone ?? DeclinedFrom(PathStep.Intervention) ?? (NotEligibleOn is { } on ? new Absent("not eligible", on) : null);

    /// <summary>Died or left: holds for every step.</summary>
    public Absent? Gone
    {
        get
        {
            if (known.Died is { } died) return new("died", died);
            // A hand-off is a message between two programs; adoption within the region leaves the child here.
            var moves = known.All.Moves.Where(m => known.By(m.MovedOn) && m.Kind != MoveKind.HandedOff)
                .OrderBy(m => m.MovedOn).ThenBy(m => m.Kind).ToList();
            if (moves.Count == 0 || moves[^1].Kind is MoveKind.Returned or MoveKind.AdoptedWithinRegion) return null;
            return new(moves[^1].Kind == MoveKind.Adopted ? "adopted" : "moved", moves[^1].MovedOn);
        }
    }

    public Absent? Straight =>
        screening.CompleteOn is not null ? null
        : known.FirstVisit is { } began ? new("straight", began)
        : screening.NotPerformedFor(ScreeningReason.StraightToDiagnostic) ? new("straight", OnDay(screening.NotPerformed!.Value))
        : null;

    /// <summary>The last word on eligibility; on one day eligible wins. A referral after a no asks again.</summary>
    public DateOnly? NotEligibleOn => SaidNo is { } no && !ReferredAfter(no) ? no : null;

    /// <summary>The day of a no, whether or not the child was referred again.</summary>
    public DateOnly? SaidNo =>
        known.Last(InterventionKind.NotEligible) is { } no && !(known.Last(InterventionKind.Eligible) >= no) ? no : null;

    public bool ReferredAfter(DateOnly on) =>
        known.Events.Any(e => e.Kind is InterventionKind.Referred or InterventionKind.ReferralReceived && e.HappenedOn > on);

    /// <summary>The child came to a new family of the region.</summary>
    public DateOnly? NewFamily => known.All.Moves.Where(m => m.Kind == MoveKind.AdoptedWithinRegion && known.By(m.MovedOn))
        .Select(m => (DateOnly?)m.MovedOn).Max();

    /// <summary>The earliest day of a refusal that stands.</summary>
    public DateOnly? Declined(PathStep step)
    {
        var days = known.All.Refusals.Where(r => r.Step == step && known.Holds(r.RefusedOn, r.RevokedOn)).Select(r => r.RefusedOn).ToList();
        if (step == PathStep.Screening && screening.NotPerformedFor(ScreeningReason.Declined))
            days.Add(OnDay(screening.NotPerformed!.Value));
        var stand = days.Where(d => !Acts(step).Any(a => a > d)).ToList();
        return stand.Count > 0 ? stand.Min() : null;
    }

    /// <summary>Days on which the family did what it had refused, or agreed to: who comes no longer refuses. JCIH 2019 leaves every step to
    /// the family, who may change its mind.</summary>
    private IEnumerable<DateOnly> Acts(PathStep step)
    {
        var came = step switch
        {
            PathStep.Screening => known.TestsOfAnyDay.Where(t => t.Outcome != ScreeningOutcome.NotPerformed).Select(OnDay),
            PathStep.Diagnosis => known.EvaluationsOfAnyDay.Select(e => e.EvaluatedOn),
            _ => known.EventsOfAnyDay.Where(e => e.Kind is InterventionKind.Enrolled or InterventionKind.ServicePlan)
                .Select(e => e.HappenedOn),
        };
        var agreed = known.All.ContactAttempts.Where(c => c.Step == step &&
            c.Outcome == ContactOutcome.AppointmentMade && known.By(c.AttemptedOn))
            .Select(c => c.AttemptedOn);
        return [.. came, .. agreed, .. NewFamily is { } day ? new[] { day } : []];
    }

    private Absent? DeclinedFrom(PathStep step) => Declined(step) is { } on ? new("declined", on) : null;
}
