using Registry.Demo;

namespace Registry.Tests.Demo;

/// <summary>
/// The invented region beside published rates. Ranges: CDC Hearing Screening and Follow-up Survey 2015-2022 (screened, not passed, lost to
/// diagnosis, enrolled), nine states 2017 (PMC8436596: ages), Am J Perinatol 2025, 10.1055/a-2675-1768 (emissions pass by age). Multiples
/// about 3 % and long intensive care about 8 % are from memory. Infants born in the last half-year, whose path is not over, are left out
/// where it matters.
/// </summary>
public sealed class DemoRatesTests(ITestOutputHelper output)
{
    private static readonly DateOnly Anchor = new(2026, 11, 25);
    private static readonly Lazy<List<FileInfant>> Region = new(() => RegionFiles.Infants(RegionFiles.Read(new DemoRegion(Anchor, 8_000))));

    private static List<FileInfant> Settled => [.. Region.Value.Where(i => i.BornOn < Anchor.AddDays(-200))];

    [Fact]
    public void Screened() => Share(97, 99.2, Settled, i => i.Screened);

    [Fact]
    public void Referred_at_first_screen() => Share(4, 12, Settled.Where(i => i.Screened), i => i.FirstReferred);

    [Fact]
    public void Not_passed_at_the_last_screen() => Share(.6, 4.5, Settled.Where(i => i.Screened), i => i.NotPassed);

    [Fact]
    public void Multiples() => Share(2, 4.5, Region.Value, i => i.IsTwin);

    [Fact]
    public void Over_five_days_in_intensive_care() => Share(5, 11, Settled, i => i.LongNicuStay);

    [Fact]
    public void Long_intensive_care_is_screened_by_brainstem_response() =>
        Share(97, 100, Settled.Where(i => i.LongNicuStay && i.Valid.Any()), i => i.Valid.First()["method"] == "aabr");

    [Fact]
    public void Permanent_loss_per_thousand()
    {
        var found = 1000.0 * Settled.Count(i => i.PermanentLoss) / Settled.Count;
        output.WriteLine($"{found:0.0} per 1,000");
        Assert.InRange(found, .7, 4);
    }

    [Fact]
    public void Diagnosed_by_three_months_of_not_passed() =>
        Share(35, 60, Settled.Where(i => i.Screened && i.NotPassed), i => i.DiagnosedOn <= i.BornOn.AddMonths(3));

    [Fact]
    public void Enrolled_of_permanent_loss() => Share(35, 85, Settled.Where(i => i.PermanentLoss), i => i.Enrolled);

    [Fact]
    public void Ages_at_screen_and_diagnosis()
    {
        var hours = Median(Settled.Where(i => i.Valid.Any()).Select(i => i.FirstHours));
        var days = Median(Settled.Where(i => i.NotPassed && i.DiagnosedOn is not null).Select(i => (double)(i.DiagnosedOn!.Value.DayNumber - i.BornOn.DayNumber)));
        output.WriteLine($"median {hours:0.0} hours, {days:0} days");
        Assert.InRange(hours, 18, 40);
        Assert.InRange(days, 55, 85);
    }

    [Fact]
    public void Emissions_refer_less_with_age_and_brainstem_response_less_than_emissions()
    {
        var first = Settled.Where(i => i.Valid.Any() && i.Site != "farrow-point").ToList();
        var oae = first.Where(i => i.Valid.First()["method"] is "teoae" or "dpoae").ToList();
        var early = Rate(oae.Where(i => i.FirstHours < 24));
        var middle = Rate(oae.Where(i => i.FirstHours is >= 24 and < 36));
        var late = Rate(oae.Where(i => i.FirstHours >= 36));
        var aabr = Rate(first.Where(i => i.Valid.First()["method"] == "aabr"));
        output.WriteLine($"emissions {early:0.0} {middle:0.0} {late:0.0}; brainstem response {aabr:0.0}");
        Assert.True(early > 1.5 * middle && middle > 1.5 * late && middle > aabr);
        static double Rate(IEnumerable<FileInfant> infants) => 100 * infants.Average(i => i.FirstReferred ? 1.0 : 0);
    }

    [Fact]
    public void Lost_to_diagnosis_differs_by_county()
    {
        var open = Settled.Where(i => i.Screened && i.NotPassed && !i.Left).GroupBy(i => i.County)
            .ToDictionary(g => g.Key, g => 100.0 * g.Count(i => i.DiagnosedOn is null) / g.Count());
        foreach (var (county, share) in open) output.WriteLine($"{county} {share:0.0} %");
        Assert.Equal("Saltmarsh", open.MaxBy(c => c.Value).Key);
        Assert.True(open["Lind"] < 40);
    }

    private void Share(double low, double high, IEnumerable<FileInfant> of, Func<FileInfant, bool> who)
    {
        var all = of.ToList();
        var share = 100.0 * all.Count(who) / all.Count;
        output.WriteLine($"{share:0.00} % of {all.Count}");
        Assert.InRange(share, low, high);
    }

    private static double Median(IEnumerable<double> values)
    {
        var sorted = values.Order().ToList();
        return sorted[sorted.Count / 2];
    }
}
