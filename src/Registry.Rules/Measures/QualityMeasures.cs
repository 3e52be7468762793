using Registry.Rules.Facts;

namespace Registry.Rules.Measures;

/// <summary>
/// The quality measures of the consensus-based entity (CBE, formerly NQF): 1354, 1357, 1360, 1361. We count birth cohorts:
/// infants born in the period, where 1354 counts stays that ended in it.
/// </summary>
public static class QualityMeasures
{
    private static readonly Source Of1354 = new(
        "CBE/NQF 1354 (CMS31), eCQI Resource Center, CMS31v4 and v6: population, exclusion and numerator", SourceMark.Found);

    private static readonly Source Of1357 = new(
        "CBE/NQF 1357, outpatient screening of infants not screened before discharge: population and title known, "
            + "one-month limit from memory",
        SourceMark.FromMemory);

    private static readonly Source Of1360 = new(
        "CBE/NQF 1360, audiological evaluation no later than 3 months of age: age under 91 days, "
            + "exclusion of deaths before 91 days from memory",
        SourceMark.FromMemory);

    private static readonly Source Of1361 = new(
        "CBE/NQF 1361, eGEMs 2018;6(1):18, Table 5: service plan signed at under 6 months, deaths before 181 days excluded",
        SourceMark.Found);

    private static readonly ClosedCohort Outpatient = new(
        "cbe_1357", "CBE 1357: outpatient screening of infants not screened before discharge", DischargedUnscreened,
        i => i.ScreenedOn, i => new Deadline(1, DeadlineUnit.Months).LastDay(i.Born))
    {
        Exclusions = [Exclusion.DiedUndone],
    };

    private static readonly ClosedCohort Evaluation = new(
        "cbe_1360", "CBE 1360: audiological evaluation no later than 3 months of age", i => i.BornInRegion && i.NotPassed,
        i => i.DiagnosedOn, i => i.Born.AddDays(90))
    {
        SameAs = "screening.not_pass",
        Exclusions = [new("died_before_91_days", "Died before 91 days of age", (i, _, _) => i.DiedBefore(91))],
    };

    private static readonly ClosedCohort Plan = new(
        "cbe_1361", "CBE 1361: intervention no later than 6 months of age", i => i.BornInRegion && i.PermanentLoss,
        i => i.First(InterventionKind.ServicePlan), i => new Deadline(6, DeadlineUnit.Months, Inclusive: false).LastDay(i.Born))
    {
        SameAs = "loss",
        Exclusions = [new("died_before_181_days", "Died before 181 days of age", (i, _, _) => i.DiedBefore(181))],
    };

    public static MeasureSet All { get; } = new(
        [
            Line.Of("cbe_1354.population", "Born in a facility", i => i.BornInFacility),
            Line.Of("cbe_1354.stays", "Birth admissions ended", i => StayEnded(i) && !DiedUnscreened(i)),
            Line.Of("cbe_1354.screened", "Each ear with a result before discharge, or not done for medical reasons",
                i => StayEnded(i) && !DiedUnscreened(i) && EachEarBeforeDischarge(i)),
            Line.Of("cbe_1354.excluded.died", "Died during the stay, no result for either ear", DiedUnscreened),
            Line.Of("cbe_1354.excluded.stay_not_ended", "Still admitted, or discharge not documented",
                i => i.BornInFacility && StayEndedOn(i) is null),
            .. Outpatient.Lines(), .. Evaluation.Lines(), .. Plan.Lines(),
        ],
        [
            new("cbe_1354", "CBE 1354: hearing screening before discharge", MeasureGroup.QualityMeasure,
                "cbe_1354.screened", "cbe_1354.stays", Of1354)
            {
                Exclusions = ["cbe_1354.excluded.died", "cbe_1354.excluded.stay_not_ended"],
                Page = "cbe-1354",
            },
            Outpatient.Ratio(MeasureGroup.QualityMeasure, "cbe-1357", Of1357),
            Evaluation.Ratio(MeasureGroup.QualityMeasure, "cbe-1360", Of1360),
            Plan.Ratio(MeasureGroup.QualityMeasure, "cbe-1361", Of1361),
        ],
        [
            new("CBE 1354: stays and exclusions are the facility births", "cbe_1354.population",
                ["cbe_1354.stays", "cbe_1354.excluded.died", "cbe_1354.excluded.stay_not_ended"]),
            .. Outpatient.Sums, .. Evaluation.Sums, .. Plan.Sums,
        ]);

    /// <summary>Left the birth admission alive without both ears screened, and not for a medical reason.</summary>
    internal static bool DischargedUnscreened(MeasuredInfant i) =>
        i.BornInFacility && i.DischargedOn is { } left && !(i.DiedOn <= left) && !EachEarBeforeDischarge(i);

    /// <summary>By discharge home, or by death as long as the stay is known or believed to last: who died later, the discharge unstated,
    /// did not die in it.</summary>
    private static DateOnly? StayEndedOn(MeasuredInfant i) =>
        i.DischargedOn ?? (i.DiedOn <= i.Status.BirthStay.LastOn ? i.DiedOn : null);

    private static bool StayEnded(MeasuredInfant i) => i.BornInFacility && StayEndedOn(i) is not null;

    private static bool DiedUnscreened(MeasuredInfant i) =>
        i.BornInFacility && StayEndedOn(i) is { } end && i.DiedOn <= end
        && !EarBefore(i, Ear.Right, end, countMedical: false) && !EarBefore(i, Ear.Left, end, countMedical: false);

    private static bool EachEarBeforeDischarge(MeasuredInfant i) =>
        StayEndedOn(i) is { } end && EarBefore(i, Ear.Right, end, countMedical: true) && EarBefore(i, Ear.Left, end, countMedical: true);

    /// <summary>Pass or refer during the stay, or not performed for a medical reason. A refusal, a technical failure and a
    /// missed screen are not medical reasons.</summary>
    private static bool EarBefore(MeasuredInfant i, Ear ear, DateOnly end, bool countMedical)
    {
        if (countMedical && i.MedicallyDelayed(PathStep.Screening, end)) return true;
        foreach (var test in i.Facts.Tests)
        {
            if (test.Ear != ear || DateOnly.FromDateTime(test.PerformedAt) > end) continue;
            if (test.Outcome is ScreeningOutcome.Pass or ScreeningOutcome.Refer) return true;
            if (countMedical && test is { Outcome: ScreeningOutcome.NotPerformed, Reason: ScreeningReason.MedicalExclusion }) return true;
        }

        return false;
    }
}
