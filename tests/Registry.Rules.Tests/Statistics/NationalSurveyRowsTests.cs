using Registry.Rules.Statistics;
using Registry.Rules.Tests.Published;
using Xunit;

namespace Registry.Rules.Tests.Statistics;

/// <summary>Every published row is recomputed to its printed decimal, and its parts are added up.</summary>
public sealed class NationalSurveyRowsTests
{
    [Theory]
    [InlineData("hsfs_2022_screening.csv", "screened", "program_births", "percent_program")]
    [InlineData("hsfs_2022_screening.csv", "screened", "vital_births", "percent_vital")]
    [InlineData("hsfs_2022_screening.csv", "lost", "program_births", "percent_lost")]
    [InlineData("hsfs_2022_not_screened.csv", "lost", "births", "percent_lost")]
    [InlineData("hsfs_2022_no_diagnosis.csv", "lost", "not_pass", "percent_lost")]
    [InlineData("hsfs_2015_before_1_month.csv", "pass_1m", "pass", "percent_pass")]
    [InlineData("hsfs_2015_before_1_month.csv", "not_pass_1m", "not_pass", "percent_not_pass")]
    [InlineData("hsfs_2015_before_1_month.csv", "all_1m", "screened", "percent_all")]
    [InlineData("hsfs_2019_diagnosis.csv", "not_pass", "screened", "percent_not_pass")]
    [InlineData("hsfs_2019_diagnosis.csv", "no_loss", "not_pass", "percent_no_loss")]
    [InlineData("hsfs_2019_diagnosis.csv", "loss", "not_pass", "percent_loss")]
    [InlineData("hsfs_2019_diagnosis.csv", "lost", "not_pass", "percent_lost")]
    [InlineData("hsfs_2019_diagnosis.csv", "unresponsive", "not_pass", "percent_unresponsive")]
    [InlineData("hsfs_2019_before_3_months.csv", "diagnosed_3m", "diagnosed", "percent_of_diagnosed")]
    [InlineData("hsfs_2019_before_3_months.csv", "diagnosed_3m", "not_pass", "percent_of_not_pass")]
    [InlineData("hsfs_2015_no_intervention.csv", "lost", "loss", "percent_lost")]
    [InlineData("hsfs_2015_no_intervention.csv", "unresponsive", "loss", "percent_unresponsive")]
    public void Percentages(string table, string numerator, string denominator, string percent)
    {
        foreach (var row in PublishedTable.Read(table))
            Assert.Equal(row.Exact(percent), new Proportion(row.Whole(numerator), row.Whole(denominator)).ToPercent());
    }

    [Fact]
    public void Rates_of_the_unable_and_the_unknown_together()
    {
        foreach (var (table, of) in new[] { ("hsfs_2019_diagnosis.csv", "not_pass"), ("hsfs_2015_no_intervention.csv", "loss") })
            foreach (var row in PublishedTable.Read(table))
                Assert.Equal(row.Exact("percent_unable_unknown"), new Proportion(row.Whole("unable") + row.Whole("unknown"), row.Whole(of)).ToPercent());
    }

    [Fact]
    public void Prevalence_per_thousand_screened()
    {
        foreach (var row in PublishedTable.Read("hsfs_2019_diagnosis.csv"))
            Assert.Equal(row.Exact("per_thousand"), new Proportion(row.Whole("loss"), row.Whole("screened")).PerThousand());
    }

    [Theory]
    [InlineData("hsfs_2022_screening.csv", "lost", "unresponsive unable unknown")]
    [InlineData("hsfs_2022_not_screened.csv", "lost", "unresponsive unable unknown")]
    [InlineData("hsfs_2022_not_screened.csv", "total", "straight_to_diagnostic died moved medical declined transferred homebirth unresponsive unable unknown other")]
    [InlineData("hsfs_2022_no_diagnosis.csv", "lost", "unresponsive unable unknown")]
    [InlineData("hsfs_2015_before_1_month.csv", "screened", "pass not_pass")]
    [InlineData("hsfs_2015_before_1_month.csv", "all_1m", "pass_1m not_pass_1m")]
    [InlineData("hsfs_2019_diagnosis.csv", "lost", "unresponsive unable unknown")]
    [InlineData("hsfs_2019_before_3_months.csv", "diagnosed", "no_loss loss")]
    [InlineData("hsfs_2019_before_3_months.csv", "diagnosed_3m", "no_loss_3m loss_3m")]
    [InlineData("hsfs_2015_no_intervention.csv", "lost", "unresponsive unable unknown")]
    [InlineData("hsfs_2015_no_intervention.csv", "loss", "enrolled not_part_c died nonresident medical declined moved adopted unresponsive unable unknown other")]
    public void Parts_that_add_up_in_print_add_up(string table, string total, string parts) =>
        Assert.All(PublishedTable.Read(table), row => Assert.Equal(row.Whole(total), parts.Split(' ').Sum(row.Whole)));
}
