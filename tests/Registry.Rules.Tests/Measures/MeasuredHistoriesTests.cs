using Registry.Rules.Measures;
using Registry.Rules.Tests.Cases;
using Xunit;

namespace Registry.Rules.Tests.Measures;

/// <summary>Single infants in the words of infants.md, and the lines of the measures they are counted in.</summary>
public class MeasuredHistoriesTests
{
    private const string Loss = "26h AABR R refer L refer; day 60 audiology R sensorineural L sensorineural; ";
    private const string OneEar = "26h AABR R refer L refer; day 60 audiology R sensorineural L normal; ";

    [Theory]
    // The day of the screen: only tests that count (line "before 1 month").
    [InlineData("26h AABR R refer L refer; day 40 rescreen AABR R refer", "screening.before_1_month", 1)]
    [InlineData("26h AABR R refer L pass; day 20 audiology R normal L normal; day 40 rescreen AABR R pass L pass",
        "screening.before_1_month", 1)]
    [InlineData("26h OAE R refer L pass; day 40 rescreen OAE R pass L pass", "screening.before_1_month", 0)]
    // Died during the stay, or later at home with the discharge unstated.
    [InlineData("discharge unknown; day 2 died", "cbe_1354.excluded.died", 1)]
    [InlineData("discharge unknown; day 40 died", "cbe_1354.excluded.died", 0)]
    [InlineData("discharge unknown; day 40 died", "cbe_1354.excluded.stay_not_ended", 1)]
    [InlineData("NICU from day 0; discharge unknown; day 40 died", "cbe_1354.excluded.died", 1)]
    [InlineData("discharged day 2; day 40 died", "cbe_1354.excluded.died", 0)]
    // A transfer is no discharge home: the sender has not missed the screen, and the receiving hospital's counts.
    [InlineData("discharged day 2; day 2 transferred to B", "benchmark.missed", 0)]
    [InlineData("discharged day 2; day 2 transferred to B", "cbe_1354.excluded.stay_not_ended", 1)]
    [InlineData("discharged day 9; day 2 transferred to B; day 8 AABR R pass L pass at site B", "benchmark.missed", 0)]
    [InlineData("discharged day 9; day 2 transferred to B; day 8 AABR R pass L pass at site B", "cbe_1354.screened", 1)]
    [InlineData("discharged day 2", "benchmark.missed", 1)]
    // Refused when it went home, and came later: not missed by the hospital.
    [InlineData("day 1 declines screening; day 9 OAE R pass L pass", "benchmark.missed", 0)]
    // Amplification: both ears, families who elect it; the others with their reason.
    [InlineData(Loss + "day 80 fitted", "benchmark.amplification.in_time", 1)]
    [InlineData(Loss + "day 80 amplification elected", "benchmark.amplification.not_done", 1)]
    [InlineData(Loss, "benchmark.amplification.excluded.not_elected", 1)]
    [InlineData(Loss + "day 80 fitting declined", "benchmark.amplification.excluded.declined", 1)]
    [InlineData(OneEar + "day 80 fitted", "benchmark.amplification.excluded.one_ear", 1)]
    // Part C: seven days, and 45 from receipt.
    [InlineData(Loss + "day 67 referred", "part_c.referral.in_time", 1)]
    [InlineData(Loss + "day 68 referred", "part_c.referral.late", 1)]
    [InlineData(Loss, "part_c.referral.not_done", 1)]
    [InlineData(Loss + "day 65 referred; day 70 referral received; day 115 service plan", "part_c.plan.in_time", 1)]
    [InlineData(Loss + "day 65 referred; day 70 referral received; day 116 service plan", "part_c.plan.late", 1)]
    [InlineData(Loss + "day 65 referred; day 80 consent awaited", "part_c.plan.excluded.paused", 1)]
    [InlineData(Loss + "day 65 referred; day 70 family delay; day 90 delay ended; day 130 service plan", "part_c.plan.in_time", 1)]
    // Enrolled on a provisional hearing loss counts.
    [InlineData("26h AABR R refer L refer; day 60 audiology provisional R sensorineural L sensorineural; day 100 enrolled", "loss", 1)]
    [InlineData("26h AABR R refer L refer; day 60 audiology provisional R sensorineural L sensorineural; day 100 enrolled",
        "intervention.enrolled", 1)]
    [InlineData("26h AABR R refer L refer; day 60 audiology provisional R sensorineural L sensorineural; day 100 enrolled",
        "diagnosis.none.unknown", 0)]
    // A conductive finding that is not definitive is in process, and lost when nobody comes back.
    [InlineData("26h AABR R refer L refer; day 60 audiology R conductive L normal", "diagnosis.documented", 0)]
    [InlineData("26h AABR R refer L refer; day 60 audiology R conductive L normal", "diagnosis.none.unknown", 1)]
    [InlineData("26h AABR R refer L refer; day 60 audiology R conductive L normal not permanent", "diagnosis.documented", 1)]
    public void Is_counted(string history, string line, int count)
    {
        var (facts, policy) = ReadCase.Facts(history);
        var asOf = facts.Birth.Date.AddDays(400);
        var infant = new MeasuredInfant(Guid.Empty, facts, EvaluateInfant.Evaluate(facts, policy, asOf), new(), asOf);
        var tabulate = new Tabulate(MeasureSet.Under(policy));
        tabulate.Add(infant);
        var table = tabulate.Result();
        Assert.Equal(count, table.Count(table.Whole, line));
        Assert.All(table.Checks(), check => Assert.True(check.Holds, check.Sum.ToString()));
    }
}
