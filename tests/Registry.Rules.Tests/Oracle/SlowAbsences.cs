using Registry.Rules.Facts;
using static Registry.Rules.Tests.Oracle.KnownFacts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>Why a step is not asked of a family, and since when.</summary>
internal readonly record struct Absent(string Why, DateOnly From);

/// <summary>
/// Section 6: died, left, declined, straight to diagnostic, not eligible. Source: the reasons of the CDC's survey (HSFS); that a refusal
/// lasts until revoked is common practice.
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
            var moves = known.All.Moves.Where(m => known.By(m.MovedOn)).OrderBy(m => m.MovedOn).ThenBy(m => m.Kind).ToList();
            if (moves.Count == 0 || moves[^1].Kind == MoveKind.Returned) return null;
            return new(moves[^1].Kind == MoveKind.Adopted ? "adopted" : "moved", moves[^1].MovedOn);
        }
    }

    public Absent? Straight =>
        screening.CompleteOn is not null ? null
        : known.FirstVisit is { } began ? new("straight", began)
        : screening.NotPerformedFor(ScreeningReason.StraightToDiagnostic) ? new("straight", OnDay(screening.NotPerformed!.Value))
        : null;

    /// <summary>The last word on eligibility; on one day eligible wins.</summary>
    public DateOnly? NotEligibleOn =>
        known.Last(InterventionKind.NotEligible) is { } no && !(known.Last(InterventionKind.Eligible) >= no) ? no : null;

    /// <summary>The earliest day of a refusal that stands.</summary>
    public DateOnly? Declined(PathStep step)
    {
        var days = known.All.Refusals.Where(r => r.Step == step && known.Holds(r.RefusedOn, r.RevokedOn)).Select(r => r.RefusedOn).ToList();
        if (step == PathStep.Screening && screening.NotPerformedFor(ScreeningReason.Declined))
            days.Add(OnDay(screening.NotPerformed!.Value));
        return days.Count > 0 ? days.Min() : null;
    }

    private Absent? DeclinedFrom(PathStep step) => Declined(step) is { } on ? new("declined", on) : null;
}
