namespace Registry.Rules.Measures;

/// <summary>
/// The program's own 1-3-6 by the policy's deadlines, with both published denominators (CDC): the eligible population
/// (everyone due, those lost included) and the population in services (only those with the step documented). Never mixed.
/// </summary>
public static class Timeliness
{
    private static readonly Source Both = new("CDC, timeliness with two denominators; deadlines from the policy", SourceMark.Found);

    public static MeasureSet Under(Policy policy)
    {
        var steps = new[]
        {
            Step("timeliness.screened", $"Screened {Words(policy.ScreeningDeadline)}",
                i => i.Status.Screened, i => i.Status.ScreeningCategory) with { SameAs = "births" },
            Step("timeliness.diagnosed", $"Diagnosed {Words(policy.DiagnosisDeadline)}",
                i => i.Status.Diagnosed, i => i.Status.DiagnosisCategory),
            Step("timeliness.enrolled", $"In early intervention {Words(policy.InterventionDeadline)}",
                i => i.Status.Enrolled, i => i.Status.InterventionCategory) with { SameAs = "loss" },
        };
        return new(
            [.. steps.SelectMany(s => s.Lines())],
            [.. steps.SelectMany(Ratios)],
            [.. steps.SelectMany(s => s.Sums)]);
    }

    private static IEnumerable<Ratio> Ratios(ClosedCohort step)
    {
        yield return step.Ratio(MeasureGroup.Timeliness, "timeliness", Both) with
        {
            Code = $"{step.Code}.of_eligible",
            Name = $"{step.Name}: of the eligible population",
        };
        yield return step.Ratio(MeasureGroup.Timeliness, "timeliness", Both) with
        {
            Code = $"{step.Code}.of_in_services",
            Name = $"{step.Name}: of the population in services",
            Denominator = step.Done,
        };
    }

    private static ClosedCohort Step(
        string code, string name, Func<MeasuredInfant, Milestone> milestone, Func<MeasuredInfant, SurveyCategory> category)
    {
        return new(code, name,
            i => i.BornInRegion && milestone(i).State != MilestoneState.NotRequired, i => milestone(i).DoneOn, i => milestone(i).DeadlineOn)
        {
            Exclusions =
            [
                Because("died", "Infant died", SurveyCategory.Died),
                Because("moved", "Non-resident, moved or adopted", SurveyCategory.NonResidentOrMoved, SurveyCategory.Adopted),
                Because("declined", "Declined by the family", SurveyCategory.Declined),
                new("other", "Other documented reason", (i, _, _) => milestone(i).State == MilestoneState.Excluded),
            ],
        };

        Exclusion Because(string reason, string words, params SurveyCategory[] categories) =>
            new(reason, words, (i, _, _) => milestone(i).State == MilestoneState.Excluded && categories.Contains(category(i)));
    }

    private static string Words(Deadline d) =>
        $"{(d.Inclusive ? "no later than" : "before")} {d.Amount} "
            + $"{(d.Unit == DeadlineUnit.Months ? "month" : "day")}{(d.Amount == 1 ? "" : "s")}";
}
