using Registry.Rules.Facts;
using Registry.Rules.Milestones;

namespace Registry.Rules.Measures;

/// <summary>
/// Benchmarks with published targets: the Joint Committee on Infant Hearing's (JCIH 2000, 2007) and the national health
/// objective. "No later than": calendar months, the boundary day in time. Only cohorts whose last day is over count.
/// </summary>
public static class Benchmarks
{
    private const string Page = "benchmarks";

    private static readonly Source Jcih2007 = new("JCIH 2007, Pediatrics 120:898; target from memory", SourceMark.FromMemory);
    private static readonly Source Jcih2000 = new("JCIH 2000", SourceMark.Found);
    private static readonly Source Missed = new(
        "Fewer than 1 % missed: found in a secondary source; what counts as missed is our reading", SourceMark.Ours);
    private static readonly Source Hoscd01 = new("Healthy People 2030, HOSCD-01", SourceMark.Found);
    private static readonly Source Hoscd02 = new("Healthy People 2030, HOSCD-02", SourceMark.Found);
    private static readonly Source Hoscd03 = new(
        "Healthy People 2030, HOSCD-03: of infants with confirmed hearing loss before 6 months of age", SourceMark.Found);

    private static readonly ClosedCohort Screened = Born(
        "benchmark.screened", "Screen complete by 1 month", i => i.BornInRegion, i => i.ScreenedOn, 1) with
    {
        SameAs = "births",
    };

    private static readonly ClosedCohort Evaluated = Born(
        "benchmark.evaluated", "Diagnosis completed by 3 months", i => i.BornInRegion && i.NotPassed, i => i.DiagnosedOn, 3) with
    {
        SameAs = "screening.not_pass",
    };

    private static readonly ClosedCohort Plan = Born(
        "benchmark.service_plan", "IFSP meeting by 6 months",
        i => Loss(i) && !FoundLate(i), i => i.First(InterventionKind.ServicePlan), 6) with
    {
        Exclusions = [NotEligible, Exclusion.DiedUndone, Exclusion.MovedUndone],
    };

    private static readonly ClosedCohort LatePlan = new(
        "benchmark.service_plan_late_loss", "IFSP meeting within 45 days of confirming a hearing loss found late",
        i => Loss(i) && FoundLate(i), i => i.First(InterventionKind.ServicePlan), i => i.LossConfirmedOn!.Value.AddDays(45))
    {
        Exclusions = [NotEligible, Exclusion.DiedUndone, Exclusion.MovedUndone],
    };

    private static readonly ClosedCohort Fitted = new(
        "benchmark.amplification", "Amplification within 1 month of confirmation, both ears, where the family elects it",
            Loss, i => i.First(InterventionKind.AmplificationFitted),
        i => i.LossConfirmedOn!.Value.AddMonths(1))
    {
        SameAs = "loss",
        Exclusions =
        [
            new("one_ear", "Permanent hearing loss in one ear", (i, _, _) => i.Status.Laterality != Laterality.Bilateral),
            new("declined", "The family chose no amplification",
                (i, done, _) => done is null && i.First(InterventionKind.AmplificationDeclined) is not null),
            new("not_elected", "No choice of the family reported",
                (i, done, _) => done is null && i.First(InterventionKind.AmplificationElected) is null),
            Exclusion.DiedUndone, Exclusion.MovedUndone,
        ],
    };

    private static readonly Source PartCReferral = new("34 CFR 303.303(a)(2)(i): no more than seven days", SourceMark.Found);
    private static readonly Source PartCPlan = new("34 CFR 303.310: 45 days from the receipt of the referral", SourceMark.Found);

    private static readonly ClosedCohort Referred = new(
        "part_c.referral", "Referred to Part C within 7 days of identification", Loss, i => Clocks(i).ReferredOn, i => Clocks(i).ReferBy);

    private static readonly ClosedCohort Planned = new(
        "part_c.plan", "IFSP meeting within 45 days of the receipt of the referral", i => Loss(i) && Clocks(i).PlanBy is not null,
        i => Clocks(i).PlannedOn, i => Clocks(i).PlanBy!.Value)
    {
        Exclusions =
        [
            new("paused", "Family circumstances, or no consent: the 45 days stand still", (i, done, _) => done is null && Clocks(i).Paused),
            NotEligible, Exclusion.DiedUndone, Exclusion.MovedUndone,
        ],
    };

    private static readonly ClosedCohort Intervention = Born(
        "benchmark.intervention", "Intervention by 6 months",
            i => Loss(i) && i.LossConfirmedOn < i.Born.AddMonths(6), i => i.EnrolledOn, 6);

    /// <summary>By 12 months of age, of losses confirmed by then.</summary>
    private static readonly ClosedCohort Assessed = Born(
        "benchmark.development", "Developmental assessment by 12 months", i => Loss(i) && i.LossConfirmedOn <= i.Born.AddMonths(12),
        i => i.First(InterventionKind.DevelopmentalAssessment), 12);

    private static Exclusion NotEligible =>
        new("not_eligible", "Not eligible for Part C", (i, _, _) => i.Status.InterventionCategory == SurveyCategory.NotEligible);

    public static MeasureSet All { get; } = new(
        [
            .. Screened.Lines(), .. Evaluated.Lines(), .. Plan.Lines(), .. LatePlan.Lines(), .. Fitted.Lines(), .. Intervention.Lines(),
            .. Referred.Lines(), .. Planned.Lines(), .. Assessed.Lines(),
            Line.Of("benchmark.discharged", "Discharged alive from a birth admission", Discharged),
            Line.Of("benchmark.missed", "Discharged without a screen of both ears, not declined and not for a medical reason",
                i => Discharged(i) && QualityMeasures.DischargedUnscreened(i) && i.RefusedOn(PathStep.Screening, i.DischargedOn) is null
                    && !i.Facts.Tests.Any(t => t is { Outcome: ScreeningOutcome.NotPerformed, Reason: ScreeningReason.Declined })),
            Line.Of("benchmark.effort", "Not pass, with follow-up documented", i => i.BornInRegion && i.NotPassed && EffortDocumented(i)),
        ],
        [
            Screened.Ratio(MeasureGroup.Benchmark, Page, Jcih2007, new(Direction.Above, .95m, Jcih2007)),
            Screened.Ratio(MeasureGroup.Benchmark, Page, Hoscd01, new(Direction.AtLeast, .97m, Hoscd01)) with
            {
                Code = "benchmark.hoscd_01",
                Name = "HOSCD-01: screened by 1 month",
            },
            new("benchmark.refer", "Refer after rescreen, before diagnostic evaluation", MeasureGroup.Benchmark,
                "screening.not_pass", "screening.screened", Jcih2007)
            {
                Page = Page,
                Target = new(Direction.Below, .04m, Jcih2007),
            },
            new("benchmark.missed", "Missed in the birth admission", MeasureGroup.Benchmark,
                "benchmark.missed", "benchmark.discharged", Missed)
            {
                Page = Page,
                Target = new(Direction.Below, .01m, Missed),
            },
            Evaluated.Ratio(MeasureGroup.Benchmark, Page, Jcih2007, new(Direction.AtLeast, .90m, Jcih2007)),
            Evaluated.Ratio(MeasureGroup.Benchmark, Page, Hoscd02, new(Direction.AtLeast, .792m, Hoscd02)) with
            {
                Code = "benchmark.hoscd_02",
                Name = "HOSCD-02: evaluated by 3 months, of not pass",
            },
            new("benchmark.effort", "Follow-up documented, of not pass", MeasureGroup.Benchmark,
                "benchmark.effort", "screening.not_pass", Jcih2000)
            {
                Page = Page,
                Target = new(Direction.AtLeast, .95m, Jcih2000),
            },
            Fitted.Ratio(MeasureGroup.Benchmark, Page, Jcih2007, new(Direction.AtLeast, .95m, Jcih2007)),
            Plan.Ratio(MeasureGroup.Benchmark, Page, Jcih2007, new(Direction.AtLeast, .90m, Jcih2007)),
            LatePlan.Ratio(MeasureGroup.Benchmark, Page, Jcih2007, new(Direction.AtLeast, .95m, Jcih2007)),
            Intervention.Ratio(MeasureGroup.Benchmark, Page, Hoscd03, new(Direction.AtLeast, .629m, Hoscd03)) with
            {
                Code = "benchmark.hoscd_03",
                Name = "HOSCD-03: enrolled by 6 months, of permanent hearing loss confirmed before 6 months",
            },
            Assessed.Ratio(MeasureGroup.Benchmark, Page, Jcih2007, new(Direction.AtLeast, .90m, Jcih2007)),
            Referred.Ratio(MeasureGroup.Benchmark, Page, PartCReferral),
            Planned.Ratio(MeasureGroup.Benchmark, Page, PartCPlan),
        ],
        [.. Screened.Sums, .. Evaluated.Sums, .. Plan.Sums, .. LatePlan.Sums,
            new("Service plan: losses found early and late are the losses", "loss",
                ["benchmark.service_plan.population", "benchmark.service_plan_late_loss.population"]),
            .. Fitted.Sums, .. Intervention.Sums, .. Referred.Sums, .. Planned.Sums, .. Assessed.Sums]);

    private static ClosedCohort Born(
        string code, string name, Func<MeasuredInfant, bool> population, Func<MeasuredInfant, DateOnly?> doneOn, int months) =>
        new(code, name, population, doneOn, i => new Deadline(months, DeadlineUnit.Months).LastDay(i.Born));

    private static bool Discharged(MeasuredInfant i) =>
        i.BornInFacility && i.DischargedOn is { } left && !(i.DiedOn <= left);

    /// <summary>A permanent loss whose confirmation is dated: the clock of fitting and of the late plan starts there.</summary>
    private static bool Loss(MeasuredInfant i) => i.BornInRegion && i.LossConfirmedOn is not null;

    private static PartCClocks Clocks(MeasuredInfant i) => DescribePartC.On(i.Facts, i.LossConfirmedOn, i.AsOf)!;

    /// <summary>Acquired or found late: after a pass, or confirmed after 6 months of age (our reading of the benchmark).</summary>
    private static bool FoundLate(MeasuredInfant i) => i.Passed || i.LossConfirmedOn > i.Born.AddMonths(6);

    /// <summary>An evaluation, an attempt to reach the family, or a documented reason why not.</summary>
    private static bool EffortDocumented(MeasuredInfant i) =>
        i.Facts.Evaluations.Any(e => e.EvaluatedOn <= i.AsOf)
        || i.Facts.ContactAttempts.Any(c => c.AttemptedOn <= i.AsOf)
        || i.Status.DiagnosisCategory is SurveyCategory.Died or SurveyCategory.NonResidentOrMoved or SurveyCategory.Medical
            or SurveyCategory.Declined or SurveyCategory.Adopted;
}
