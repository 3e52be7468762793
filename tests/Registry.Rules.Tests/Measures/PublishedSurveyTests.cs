using Registry.Rules.Facts;
using Registry.Rules.Measures;
using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Measures;

/// <summary>
/// Rows of the national survey (CDC Hearing Screening and Follow-up Survey 2015, 2019, 2022) as published, rebuilt infant by
/// infant and tabulated: the same counts, percentages and sums come out.
/// </summary>
public sealed class PublishedSurveyTests
{
    private static readonly DateOnly Born = new(2022, 3, 14);
    private static readonly DateOnly AsOf = new(2024, 1, 1);
    private static readonly MeasureSet Set = MeasureSet.Under(Policy.Default);

    private static readonly Dictionary<string, SurveyCategory> Columns = new()
    {
        ["straight_to_diagnostic"] = SurveyCategory.StraightToDiagnostic,
        ["died"] = SurveyCategory.Died,
        ["moved"] = SurveyCategory.NonResidentOrMoved,
        ["nonresident"] = SurveyCategory.NonResidentOrMoved,
        ["medical"] = SurveyCategory.Medical,
        ["declined"] = SurveyCategory.Declined,
        ["transferred"] = SurveyCategory.TransferredWithoutDocumentation,
        ["homebirth"] = SurveyCategory.Homebirth,
        ["unresponsive"] = SurveyCategory.Unresponsive,
        ["unable"] = SurveyCategory.UnableToContact,
        ["unknown"] = SurveyCategory.Unknown,
        ["other"] = SurveyCategory.Other,
        ["in_process"] = SurveyCategory.InProcess,
        ["not_part_c"] = SurveyCategory.NotEligible,
        ["adopted"] = SurveyCategory.Adopted,
    };

    [Fact]
    public void Not_screened_reasons_of_2022_add_up_and_give_the_published_percentages()
    {
        foreach (var row in PublishedTable.Read("hsfs_2022_not_screened.csv").Where(r => r.Whole("births") < 100_000))
        {
            var table = Tabulated(
                Many(row.Whole("births") - row.Whole("total"),
                    Status() with { ScreeningCategory = SurveyCategory.Completed, Screening = ScreeningConclusion.Passed })
                .Concat(Reasons(row, category => Status() with { ScreeningCategory = category })));
            Assert.Equal(row.Whole("births"), table("births"));
            Assert.Equal(row.Whole("total"), table("screening.none"));
            Assert.Equal(row.Whole("lost"), table("screening.lost"));
            Assert.Equal(row.Exact("percent_lost"), new Proportion(table("screening.lost"), table("births")).ToPercent());
        }
    }

    [Fact]
    public void Reasons_for_no_diagnosis_of_2022_give_the_published_percentages()
    {
        foreach (var row in PublishedTable.Read("hsfs_2022_no_diagnosis.csv"))
        {
            var reasons = Reasons(row, category => Referred() with { DiagnosisCategory = category }).ToList();
            var table = Tabulated(reasons.Concat(Many(
                row.Whole("not_pass") - reasons.Count,
                Referred() with { DiagnosisCategory = SurveyCategory.Completed, Hearing = HearingConclusion.Normal })));
            Assert.Equal(row.Whole("not_pass"), table("screening.not_pass"));
            Assert.Equal(reasons.Count, table("diagnosis.none"));
            Assert.Equal(row.Whole("lost"), table("diagnosis.lost"));
            Assert.Equal(row.Exact("percent_lost"), new Proportion(table("diagnosis.lost"), table("screening.not_pass")).ToPercent());
        }
    }

    [Fact]
    public void Before_three_months_of_2019_of_the_diagnosed_and_of_the_not_passed()
    {
        foreach (var row in PublishedTable.Read("hsfs_2019_before_3_months.csv"))
        {
            InfantStatus Diagnosed(HearingConclusion hearing, bool early) => Referred() with
            {
                DiagnosisCategory = SurveyCategory.Completed,
                Hearing = hearing,
                InterventionCategory = hearing == HearingConclusion.PermanentLoss ? SurveyCategory.Unknown : SurveyCategory.NotApplicable,
                RightHearing = hearing == HearingConclusion.PermanentLoss ? new(EarFinding.Sensorineural, LossDegree.Mild, true) : default,
                Diagnosed = new(MilestoneState.Met, Born, Born.AddMonths(3).AddDays(early ? -1 : 0), ""),
            };
            var infants = Many(row.Whole("no_loss_3m"), Diagnosed(HearingConclusion.Normal, true))
                .Concat(Many(row.Whole("no_loss") - row.Whole("no_loss_3m"), Diagnosed(HearingConclusion.Normal, false)))
                .Concat(Many(row.Whole("loss_3m"), Diagnosed(HearingConclusion.PermanentLoss, true)))
                .Concat(Many(row.Whole("loss") - row.Whole("loss_3m"), Diagnosed(HearingConclusion.PermanentLoss, false)))
                .Concat(Many(row.Whole("not_pass") - row.Whole("diagnosed"),
                    Referred() with { DiagnosisCategory = SurveyCategory.Unknown }));
            var table = Tabulated(infants);
            Assert.Equal(row.Whole("diagnosed"), table("diagnosis.documented"));
            Assert.Equal(row.Whole("diagnosed_3m"), table("diagnosis.before_3_months"));
            Assert.Equal(row.Exact("percent_of_diagnosed"), new Proportion(
                table("diagnosis.before_3_months"), table("diagnosis.documented")).ToPercent());
            Assert.Equal(row.Exact("percent_of_not_pass"), new Proportion(table("diagnosis.before_3_months"), table("screening.not_pass"))
                .ToPercent());
        }
    }

    [Fact]
    public void Reasons_for_no_intervention_of_2015_and_the_rows_that_do_not_add_up_in_print()
    {
        foreach (var row in PublishedTable.Read("hsfs_2015_no_intervention.csv"))
        {
            InfantStatus Lost(SurveyCategory category) => Referred() with
            {
                DiagnosisCategory = SurveyCategory.Completed,
                Hearing = HearingConclusion.PermanentLoss,
                RightHearing = new(EarFinding.Sensorineural, LossDegree.Moderate, true),
                InterventionCategory = category,
            };
            var infants = Reasons(row, Lost).Concat(Many(row.Whole("enrolled"), Lost(SurveyCategory.Completed))).ToList();
            var table = Tabulated(infants);
            Assert.Equal(row.Whole("lost"), table("intervention.lost"));
            Assert.Equal(row.Whole("enrolled"), table("intervention.enrolled"));
            Assert.Equal(row.Whole("nonresident"), table("intervention.none.non_resident"));
            Assert.Equal(row.Whole("moved"), table("intervention.none.moved"));

            // Ours always add up; the printed total of three jurisdictions does not.
            Assert.Equal(row.Whole("loss") - row.Whole("gap"), table("loss"));
            Assert.Equal(row.Exact("percent_lost"), new Proportion(table("intervention.lost"), row.Whole("loss")).ToPercent());
        }
    }

    private static InfantStatus Status() => new()
    {
        Right = EarResult.NotScreened,
        Left = EarResult.NotScreened,
        Screening = ScreeningConclusion.NotScreened,
        Screened = default,
        Diagnosed = default,
        Enrolled = default,
        Hearing = HearingConclusion.NotEvaluated,
        Dues = [],
        Loss = LossState.None,
        ScreeningCategory = SurveyCategory.NotApplicable,
        DiagnosisCategory = SurveyCategory.NotApplicable,
        InterventionCategory = SurveyCategory.NotApplicable,
        Flags = StatusFlags.None,
    };

    private static InfantStatus Referred() =>
        Status() with { ScreeningCategory = SurveyCategory.Completed, Screening = ScreeningConclusion.ReferredOneEar };

    private static IEnumerable<MeasuredInfant> Many(long count, InfantStatus status, params Move[] moves)
    {
        var infant = new MeasuredInfant(Guid.Empty, new() { Birth = new(Born, null), Moves = moves }, status, new(), AsOf);
        return Enumerable.Repeat(infant, checked((int)count));
    }

    private static IEnumerable<MeasuredInfant> Reasons(
        IReadOnlyDictionary<string, string> row, Func<SurveyCategory, InfantStatus> status) =>
        row.Keys.Where(Columns.ContainsKey).SelectMany(column => Many(
            row.Whole(column), status(Columns[column]),
            column == "nonresident" ? [new(MoveKind.NonResident, Born)] : column == "moved" ? [new(MoveKind.OutOfRegion, Born)] : []));

    private static Func<string, int> Tabulated(IEnumerable<MeasuredInfant> infants)
    {
        var tabulate = new Tabulate(Set, Breakdown.None);
        foreach (var infant in infants) tabulate.Add(infant);
        var table = tabulate.Result();
        string[] steps = ["screening", "diagnosis", "intervention", "births", "loss"];
        Assert.All(table.Checks().Where(c => c.Sum.Parts.Append(c.Sum.Total).All(l => steps.Contains(l.Split('.')[0]))),
            c => Assert.True(c.Holds, $"{c.Sum.Name}: {c.Parts} of {c.Total}"));
        return line => table.Count(table.Whole, line);
    }
}
