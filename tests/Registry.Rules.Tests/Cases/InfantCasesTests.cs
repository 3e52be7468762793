using Registry.Rules.Facts;
using Registry.Rules.Milestones;
using Xunit;

namespace Registry.Rules.Tests.Cases;

/// <summary>Every row of infants.md.</summary>
public class InfantCasesTests
{
    private static readonly string[] Columns =
        ["case", "facts", "day", "screening", "1-3-6", "due", "lost", "lines", "flags", "then", "says"];

    private static readonly Dictionary<string, string[]> Rows = Read();

    public static TheoryData<string> Names => [.. Rows.Keys];

    [Theory]
    [MemberData(nameof(Names))]
    public void Case(string name)
    {
        var row = Rows[name];
        var (facts, policy) = ReadCase.Facts(row[1]);
        var born = facts.Birth.Date;
        var status = EvaluateInfant.Evaluate(
            facts, policy, born.AddDays(int.Parse(row[2], System.Globalization.CultureInfo.InvariantCulture)));

        var conclusion = status.Screening switch
        {
            ScreeningConclusion.ReferredOneEar => "one ear",
            ScreeningConclusion.ReferredBothEars => "both ears",
            var other => Words(other),
        };
        var ears = row[3].Contains('(') ? $" ({Words(status.Right)}/{Words(status.Left)})" : "";
        string Day(DateOnly on) => $"{Age.Days(born, on)}";
        var due = status.Dues.Length == 0 ? "none" : string.Join(", ", status.Dues.Select(d => $"{Step(d.Step)} {Day(d.DueOn)}"));
        var flags = status.Flags == StatusFlags.None
            ? "none"
            : string.Join(", ", Enum.GetValues<StatusFlags>().Where(f => f != StatusFlags.None && status.Flags.HasFlag(f)).Select(Words));
        var lost = status.Loss switch
        {
            LossState.None => "no",
            LossState.LostToFollowUp => $"follow-up, {Words(status.LostAt!.Value)}",
            _ => $"documentation, {Words(status.LostAt!.Value)}",
        };

        Check(3, conclusion + ears);
        Check(4, $"{State(status.Screened)} / {State(status.Diagnosed)} / {State(status.Enrolled)}");
        Check(5, due);
        Check(6, lost);
        Check(7, $"{Line(status.ScreeningCategory)} / {Line(status.DiagnosisCategory)} / {Line(status.InterventionCategory)}");
        Check(8, flags);
        Check(9, status.NextChangeOn is { } next ? Day(next) : "never");

        foreach (var said in row[10].Split(';', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries))
            Assert.Contains(said, Everything(facts, status), StringComparison.Ordinal);

        void Check(int column, string actual)
        {
            if (row[column].Length > 0 && row[column] != actual)
                Assert.Fail($"{Columns[column]}: expected '{row[column]}', but it is '{actual}' ({status.Screened.Reason}; "
                    + $"{status.Diagnosed.Reason}; {status.Enrolled.Reason})");
        }
    }

    /// <summary>What the answer says in words, and what no column has: the screen that decided, who has the next step, Part C's
    /// clock.</summary>
    private static string Everything(InfantFacts facts, InfantStatus status)
    {
        var day = facts.Birth.Date;
        var clocks = DescribePartC.On(facts, status.IdentifiedOn, day.AddYears(9));
        return string.Join('\n', status.Dues.Select(d => d.Why).Concat([
            status.Screened.Reason, status.Diagnosed.Reason, status.Enrolled.Reason,
            status.ScreenDecidedOn is { } on ? $"decided by the screen of day {Age.Days(day, on)}" : "",
            status.ResponsibleSiteId == ReadCase.SiteB ? "next step at site B" : "next step at site A",
            clocks?.DaysToReferral is { } days
                ? $"referred {days} days after identification, {(clocks.ReferredInTime == true ? "in time" : "late")}" : "",
        ]));
    }

    [Fact]
    public void There_are_at_least_260_and_every_group_names_its_source()
    {
        Assert.True(Rows.Count >= 260, $"{Rows.Count} cases");
        var text = File.ReadAllText(FilePath);
        Assert.All(text.Split("\n## ").Skip(1), group => Assert.StartsWith("Source: ", group.Split('\n')[1], StringComparison.Ordinal));
    }

    private static string FilePath => Path.Combine(AppContext.BaseDirectory, "Cases", "infants.md");

    private static Dictionary<string, string[]> Read()
    {
        var rows = new Dictionary<string, string[]>();
        foreach (var line in File.ReadLines(FilePath).Where(l => l.StartsWith('|') && !l.StartsWith("|--", StringComparison.Ordinal)))
        {
            var cells = line.Split('|', StringSplitOptions.TrimEntries)[1..^1];
            if (cells.Length == Columns.Length - 1) cells = [.. cells, cells[0] == Columns[0] ? Columns[^1] : ""];
            if (cells.Length != Columns.Length) throw new FormatException($"{cells.Length} cells instead of {Columns.Length}: {line}");
            if (!cells.SequenceEqual(Columns)) rows.Add(cells[0], cells);
        }

        return rows;
    }

    private static string Words<T>(T value) where T : struct, Enum => Codes.Of(value).Replace('_', ' ');
    private static string State(Milestone milestone) => milestone.State == MilestoneState.NotRequired ? "–" : Words(milestone.State);
    private static string Line(SurveyCategory category) => category == SurveyCategory.NotApplicable ? "–" : Words(category);

    private static string Step(DueStep step) => step switch
    {
        DueStep.CompleteScreen => "complete",
        DueStep.AbrScreen => "abr",
        DueStep.MiddleEarReevaluation => "middle ear",
        DueStep.RepeatScreen => "repeat",
        DueStep.DiagnosticEvaluation => "audiology",
        DueStep.ReferToIntervention => "refer",
        DueStep.EnrolInIntervention => "enrol",
        DueStep.ServicePlan => "plan",
        DueStep.AmplificationFitting => "fit",
        DueStep.SurveillanceEvaluation => "surveillance",
        _ => Words(step),
    };
}
