using Registry.Rules.Facts;
using Registry.Rules.Screening;
using Registry.Rules.Tests.Cases;
using Registry.Rules.Tests.Oracle;
using Xunit;

namespace Registry.Rules.Tests.Screening;

public class DescribeTestsTests
{
    private static string[] Describe(string facts, int day)
    {
        var (infant, policy) = ReadCase.Facts(facts);
        return [.. DescribeTests.On(infant, policy, infant.Birth.Date.AddDays(day)).Select(d =>
            FormattableString.Invariant($"{d.Test.Ear} {d.Use} session {d.Session} attempt {d.Attempt} {d.Stage} day {d.AgeDays}"))];
    }

    [Fact]
    public void Attempts_of_the_admission() =>
        Assert.Equal(
        [
            "Right Replaced session 1 attempt 1 BirthAdmission day 1",
            "Right Counts session 1 attempt 2 BirthAdmission day 1",
            "Left NoValidResult session 1 attempt 1 BirthAdmission day 1",
            "Left Counts session 2 attempt 2 BirthAdmission day 2",
        ], Describe("26h OAE R refer pass L noise; 40h OAE L pass", 10));

    [Fact]
    public void A_one_ear_rescreen_and_what_came_too_late() =>
        Assert.Equal(
        [
            "Right Counts session 1 attempt 1 BirthAdmission day 1",
            "Left Counts session 1 attempt 1 BirthAdmission day 1",
            "Right OneEarOnly session 2 attempt 1 OutpatientRescreen day 14",
            "Right AfterEvaluation session 3 attempt 2 OutpatientRescreen day 40",
            "Left NotYet session 0 attempt 0 Unstated day 60",
        ], Describe("26h OAE R refer L pass; day 14 rescreen OAE R pass; day 30 audiology R normal L normal; day 40 rescreen OAE R pass; "
            + "day 60 OAE L pass", 50));

    [Fact]
    public void An_OAE_after_an_ABR_refer_leaves_the_refer_counting() =>
        Assert.Equal(
        [
            "Right Counts session 1 attempt 1 BirthAdmission day 1",
            "Left Replaced session 1 attempt 1 BirthAdmission day 1",
            "Right OaeAfterAbrRefer session 2 attempt 1 OutpatientRescreen day 14",
            "Left Counts session 2 attempt 1 OutpatientRescreen day 14",
        ], Describe("26h AABR R refer L pass; day 14 rescreen OAE R pass L pass", 50));

    [Fact]
    public void Age_in_hours_needs_a_time_of_birth()
    {
        var (facts, policy) = ReadCase.Facts("26h OAE R pass L pass");
        Assert.Equal(26, DescribeTests.On(facts, policy, facts.Birth.Date.AddDays(9))[0].AgeHours);
        facts = facts with { Birth = facts.Birth with { Time = null } };
        Assert.All(DescribeTests.On(facts, policy, facts.Birth.Date.AddDays(9)), d => Assert.Null(d.AgeHours));
    }

    /// <summary>What the page says of each test is what the status stands on.</summary>
    [Fact]
    public void One_test_counts_for_every_ear_with_a_result()
    {
        var generated = new GeneratedInfants(31);
        for (var i = 0; i < 5_000; i++)
        {
            var (facts, policy, asOf) = generated.Next();
            var status = EvaluateInfant.Evaluate(facts, policy, asOf);
            var described = DescribeTests.On(facts, policy, asOf);
            foreach (var (ear, result) in new[] { (Ear.Right, status.Right), (Ear.Left, status.Left) })
            {
                var counting = described.Where(d => d.Test.Ear == ear && d.Use == TestUse.Counts).ToList();
                if (result is EarResult.Pass or EarResult.Refer)
                    Assert.Equal(result.ToString(), Assert.Single(counting).Test.Outcome.ToString());
                else
                    Assert.Empty(counting);
            }
        }
    }
}
