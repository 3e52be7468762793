using Registry.Rules.Facts;
using static Registry.Rules.Tests.Oracle.KnownFacts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// Section 9, surveillance: what a risk indicator asks for. Source: JCIH 2019 table 1 (the indicators found, the times from memory).
/// </summary>
internal sealed class SlowSurveillance(
    KnownFacts known, SlowScreening screening, SlowDiagnosis diagnosis, SlowAbsences absences, SlowMilestones milestones)
{
    private bool Refused => absences.Declined(PathStep.Diagnosis) is not null;

    private bool EvaluationUnderWay => milestones.DiagnosisOpen || diagnosis.Begun && !diagnosis.Closed;

    private bool Cleared => !Refused && !EvaluationUnderWay && (screening.Conclusion == ScreeningConclusion.Passed || diagnosis.Closed);

    /// <summary>The soonest per indicator.</summary>
    public IEnumerable<SlowDue> Evaluations() =>
        diagnosis.IdentifiedOn is not null ? []
        : Indicators().Select(i => (i.Kind, DueOn: DueFor(i.Kind, i.On))).Where(d => d.DueOn is not null)
            .GroupBy(d => d.Kind)
            .Select(g => new SlowDue(g.Min(d => d.DueOn!.Value), DueStep.SurveillanceEvaluation,
                $"surveillance.{Codes.Of(g.Key).Replace('_', '-')}"));

    public IEnumerable<SlowDue> AbrScreen()
    {
        if (diagnosis.IdentifiedOn is not null || !Cleared || absences.Declined(PathStep.Screening) is not null
            || diagnosis.LastFull is not null) yield break;
        if (screening.LastAbr(Ear.Right) is not null && screening.LastAbr(Ear.Left) is not null) yield break;
        // CDC 2017: laboratory evidence, with or without findings, and passed with OAE alone: ABR by one month.
        var zika = known.Risks.Where(r => r.Kind is RiskIndicatorKind.ZikaLaboratoryAndClinical or RiskIndicatorKind.ZikaLaboratoryOnly)
            .Select(r => Later(known.Born.AddMonths(1), r.NotedOn)).ToList();
        if (zika.Count > 0) yield return new(zika.Min(), DueStep.AbrScreen, "screening.abr-for-indicator");
    }

    /// <summary>The audiologist's date stands before any table's; a permanent hearing loss is seen every six months to age three (from
    /// memory,
    /// policy). Nobody is asked twice: an evaluation under way has the date.</summary>
    public IEnumerable<SlowDue> Monitoring()
    {
        if (Refused || !diagnosis.Closed || known.LastVisit is not { } last) yield break;
        var third = known.Born.AddYears(known.Policy.MonitoringUntilYears);
        if (diagnosis.NextSet is { } next) yield return new(next, DueStep.Monitoring, "monitoring.audiologist");
        else if (diagnosis.IdentifiedOn is not null && last.AddMonths(known.Policy.MonitoringMonths) is var on
            && on < third && known.AsOf < third)
            yield return new(on, DueStep.Monitoring, "monitoring.permanent-loss");
    }

    /// <summary>Those before the birth count from birth; a long NICU stay is one; a caregiver's concern needs no cleared infant.</summary>
    private IEnumerable<(RiskIndicatorKind Kind, DateOnly On)> Indicators()
    {
        var noted = known.Risks.Where(r => r.Kind != RiskIndicatorKind.NicuOverFiveDays)
            .Select(r => (r.Kind, On: r.Kind == RiskIndicatorKind.CongenitalCmv ? known.Born : Later(r.NotedOn, known.Born)));
        var stayed = known.LongNicuStay ? [(Kind: RiskIndicatorKind.NicuOverFiveDays, On: known.Born)]
            : Array.Empty<(RiskIndicatorKind Kind, DateOnly On)>();
        return noted.Concat(stayed).Where(r => Cleared || r.Kind == RiskIndicatorKind.CaregiverConcern);
    }

    private DateOnly? DueFor(RiskIndicatorKind kind, DateOnly on)
    {
        var time = known.Policy.Surveillance.Single(t => t.Kind == kind);
        var limit = time.UntilAgeYears is { } years ? known.Born.AddYears(years) : DateOnly.MaxValue;

        // CDC 2017 no longer asks for the later test of an infant who passed ABR.
        if (time.AbrPassEnds && screening.LastAbr(Ear.Right) == ScreeningOutcome.Pass
            && screening.LastAbr(Ear.Left) == ScreeningOutcome.Pass)
            return null;
        if (diagnosis.Closed && diagnosis.NextSet is not null && known.LastVisit >= on) return null;

        // An evaluation at a younger age than asked for, or before the indicator, says nothing of it.
        var countsFrom = time.NotBeforeAgeMonths is { } months ? Later(on, known.Born.AddMonths(months)) : on;
        var asked = time.ByAgeMonths is { } age ? Later(known.Born.AddMonths(age), on) : on.AddMonths(time.WithinMonths!.Value);
        if (time.EveryMonths is null && diagnosis.LastNormal >= countsFrom) return null;
        var due = !(diagnosis.LastFull >= countsFrom) ? asked
            : time.EveryMonths is { } every ? diagnosis.LastFull.Value.AddMonths(every)
            : Later(asked, LastDay(known.Policy.MiddleEarReevaluation, diagnosis.LastFull.Value));
        return due < limit && known.AsOf < limit ? due : null;
    }
}
