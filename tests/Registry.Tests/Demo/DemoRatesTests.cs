using Registry.Demo;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Demo;

/// <summary>
/// The default region looks like a real one. Ranges: screened, final not-pass, permanent loss, loss to diagnosis from the CDC hearing
/// screening and follow-up survey; refers by age from Am J Perinatol 2025, 10.1055/a-2675-1768, Pediatr Res 1998 and Front Pediatr 2021,
/// 655625; median ages from PMC8436596. Where none is named the range is our own choice.
/// </summary>
public sealed class DemoRatesTests
{
    private static readonly List<DemoInfant> Infants = [.. ReadRegion.OldEnough];
    private static readonly List<DemoInfant> Screened = [.. Infants.Where(i => i.Valid.Any())];
    private static readonly List<DemoInfant> NotPassed = [.. Screened.Where(i => i.NotPassed)];

    [Fact]
    public void Screening()
    {
        AssertShare(.97, .995, Screened, Infants);
        AssertShare(.006, .045, NotPassed, Screened);
        Assert.InRange(Median(Screened.Select(i => i.AgeAtScreen!.Value)), 20, 36); // one day
    }

    [Fact]
    public void First_screen_refers_fall_with_age_and_are_fewer_by_brainstem_response()
    {
        var emissions = Screened.Where(i => i.Valid.First()["method"] is "teoae" or "dpoae").ToList();
        var aabr = Screened.Where(i => i.Valid.First()["method"] == "aabr").ToList();
        AssertShare(.07, .14, emissions.Where(i => i.FirstReferred), emissions);
        AssertShare(.02, .06, aabr.Where(i => i.FirstReferred), aabr);
        var bands = new[] { (0, 24), (24, 36), (36, 48) }.Select(
            b => emissions.Where(i => i.AgeAtScreen >= b.Item1 && i.AgeAtScreen < b.Item2).ToList())
            .Select(b => (double)b.Count(i => i.FirstReferred) / b.Count).ToList();
        Assert.True(bands[0] > 1.5 * bands[1] && bands[1] > 1.5 * bands[2], string.Join(", ", bands));
    }

    [Fact]
    public void Two_steps_before_discharge_leave_few_refers()
    {
        var twoStep = Screened.Where(i => Places.Birthing.First(p => p.Code == i.Birth.Site) is { Protocol: Protocol.OaeThenAabr })
            .ToList();
        AssertShare(.015, .06, twoStep.Where(i => i.Valid.Where(t => t["stage"] == "birth_admission").GroupBy(t => t["ear"])
            .Any(g => g.Last()["outcome"] == "refer")), twoStep);
    }

    [Fact]
    public void Intensive_care_over_five_days_is_screened_by_brainstem_response()
    {
        var intensive = Infants.Where(i => i.Has("risk", "indicator", "nicu_over_five_days")).ToList();
        // Who is born before 34 weeks stays until then, since brainstem response is not reliable before.
        AssertShare(.08, .11, intensive, Infants);
        Assert.All(intensive.SelectMany(i => i.Tests.Where(t => t["stage"] == "birth_admission")), t => Assert.Equal("aabr", t["method"]));
    }

    [Fact]
    public void Diagnosis()
    {
        var diagnosed = NotPassed.Where(i => i.Diagnosis is not null).ToList();
        AssertShare(.40, .50, diagnosed.Where(i => AgeAtDiagnosis(i) <= 91), NotPassed);
        Assert.InRange(Median(diagnosed.Select(AgeAtDiagnosis)), 58, 78); // 68 days in nine states
        var loss = diagnosed.Where(HasPermanentLoss).ToList();
        Assert.InRange(1000.0 * loss.Count / Screened.Count, 1, 3);
        AssertShare(.45, .75, loss.Where(i => i.Has("intervention", "event", "enrolled")), loss);
    }

    [Fact]
    public void Loss_to_diagnosis_differs_by_county()
    {
        var shares = NotPassed.GroupBy(i => i.Birth["county"]!).ToDictionary(g => g.Key, g => (double)g.Count(IsLost) / g.Count());
        Assert.Equal(6, shares.Count);
        Assert.All(shares, s => Assert.InRange(s.Value, .04, .60));
        Assert.True(shares[Places.UnreachableCounty] > 2 * shares["Lind"]);
    }

    [Fact]
    public void Multiples_deaths_moves_refusals_transfers_and_home_births_occur()
    {
        AssertShare(.02, .04, Infants.Where(i => i.Birth["plurality"] == "2"), Infants);
        AssertShare(.003, .008, Infants.Where(i => i.Later.Any(l => l.Kind == "death")), Infants);
        AssertShare(.004, .02, Infants.Where(i => i.Later.Any(l => l.Kind == "move")), Infants);
        AssertShare(.001, .01, Infants.Where(i => i.Later.Any(l => l.Kind == "refusal")), Infants);
        AssertShare(.01, .04, Infants.Where(i => i.Later.Any(l => l.Kind == "transfer")), Infants);
        AssertShare(.004, .02, Infants.Where(i => i.Birth["birth_place"] == "home"), Infants);
    }

    private static bool IsLost(DemoInfant i) => i.Diagnosis is null && !i.Later.Any(
        l => l.Kind is "death" or "move" or "refusal" or "diagnosis");

    private static double AgeAtDiagnosis(DemoInfant i) => i.Diagnosis!.Day("evaluated_on").DayNumber - i.Birth.Day("birth_date").DayNumber;

    private static bool HasPermanentLoss(DemoInfant i) =>
        new[] { i.Diagnosis!["right_finding"], i.Diagnosis["left_finding"] }.Any(
            f => f is "sensorineural" or "mixed" or "auditory_neuropathy");

    private static double Median(IEnumerable<double> values)
    {
        var sorted = values.Order().ToList();
        return sorted[sorted.Count / 2];
    }

    private static void AssertShare(double low, double high, IEnumerable<DemoInfant> part, List<DemoInfant> whole) =>
        Assert.InRange((double)part.Count() / whole.Count, low, high);
}
