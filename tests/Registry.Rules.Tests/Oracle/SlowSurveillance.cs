using Registry.Rules.Facts;
using Registry.Rules.Surveillance;
using static Registry.Rules.Tests.Oracle.KnownFacts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>
/// Section 9, surveillance: what a risk indicator asks for. Source: JCIH 2019 table 1 (the indicators found, the times from memory).
/// </summary>
internal sealed class SlowSurveillance(
    KnownFacts known, SlowScreening screening, SlowDiagnosis diagnosis, SlowAbsences absences, SlowMilestones milestones)
{
    private bool Asks => absences.Declined(PathStep.Diagnosis) is null && diagnosis.IdentifiedOn is null;

    private bool EvaluationUnderWay => milestones.DiagnosisOpen || diagnosis.Begun && !diagnosis.Closed;

    private bool Cleared => !EvaluationUnderWay && (screening.Conclusion == ScreeningConclusion.Passed || diagnosis.Closed);

    /// <summary>The soonest per indicator.</summary>
    public IEnumerable<SlowDue> Evaluations() =>
        !Asks ? []
        : Indicators().Select(i => (i.Kind, DueOn: DueFor(i.Kind, i.On))).Where(d => d.DueOn is not null)
            .GroupBy(d => d.Kind)
            .Select(g => new SlowDue(g.Min(d => d.DueOn!.Value), DueStep.SurveillanceEvaluation,
                $"surveillance.{Codes.Of(g.Key).Replace('_', '-')}"));

    public IEnumerable<SlowDue> AbrScreen()
    {
        if (!Asks || !Cleared || absences.Declined(PathStep.Screening) is not null || diagnosis.LastFull is not null) yield break;
        if (screening.LastAbr(Ear.Right) is not null && screening.LastAbr(Ear.Left) is not null) yield break;
        var zika = known.Risks.Where(r => r.Kind == RiskIndicatorKind.ZikaLaboratoryAndClinical)
            .Select(r => Later(known.Born.AddMonths(1), r.NotedOn)).ToList();
        if (zika.Count > 0) yield return new(zika.Min(), DueStep.RepeatScreen, "screening.abr-for-indicator");
    }

    /// <summary>Those before the birth count from birth; a long NICU stay is one; a caregiver's concern needs no cleared infant.</summary>
    private IEnumerable<(RiskIndicatorKind Kind, DateOnly On)> Indicators()
    {
        var noted = known.Risks.Where(r => r.Kind != RiskIndicatorKind.NicuOverFiveDays)
            .Select(r => (r.Kind, On: Later(r.NotedOn, known.Born)));
        var stayed = known.LongNicuStay ? [(Kind: RiskIndicatorKind.NicuOverFiveDays, On: known.Born)]
            : Array.Empty<(RiskIndicatorKind Kind, DateOnly On)>();
        return noted.Concat(stayed).Where(r => Cleared || r.Kind == RiskIndicatorKind.CaregiverConcern);
    }

    private DateOnly? DueFor(RiskIndicatorKind kind, DateOnly on)
    {
        var time = known.Policy.Surveillance.Single(t => t.Kind == kind);
        var limit = time.UntilAgeYears is { } years ? known.Born.AddYears(years) : DateOnly.MaxValue;
        var due = AnsweredOn(time, on) is { } answered
            ? time.EveryMonths is { } every ? answered.AddMonths(every) : (DateOnly?)null
            : time.ByAgeMonths is { } age ? Later(known.Born.AddMonths(age), on)
            : on.AddMonths(time.WithinMonths!.Value);
        return due < limit && known.AsOf < limit ? due : null;
    }

    /// <summary>By the last full evaluation, when it is not older than the indicator, nor than the age it asks for.</summary>
    private DateOnly? AnsweredOn(SurveillanceTime time, DateOnly on)
    {
        var countsFrom = time.NotBeforeAgeMonths is { } months ? Later(on, known.Born.AddMonths(months)) : on;
        return diagnosis.LastFull >= countsFrom ? diagnosis.LastFull : null;
    }
}
