using Registry.Bench.Quality;
using Registry.Rules.Quality;
using Xunit;

namespace Registry.Rules.Tests.Quality;

/// <summary>A few region-years of the benchmark's simulation, with fixed seeds: ears and attempts drawn without any of the detector's
/// ideas. The benchmark has hundreds.</summary>
public sealed class ImaginedRegionTests
{
    private const int Births = 27_000, Year = 365;
    private static readonly DateOnly Begin = new(2031, 1, 1);

    /// <summary>Three region-years: 36 false flags are stated, and a Poisson count of mean 36 exceeds 50 once in a hundred.</summary>
    [Fact]
    public void Without_a_fault_no_more_is_raised_than_stated() =>
        Assert.InRange(Enumerable.Range(1, 3).Sum(seed => Watch(seed, null, Year).Count), 0, 50);

    [Theory]
    [InlineData(nameof(FaultKind.LeakingProbe), ImaginedRegion.Large, "tip_and_port")]
    [InlineData(nameof(FaultKind.EarlyTests), ImaginedRegion.Medium, "timing")]
    [InlineData(nameof(FaultKind.NoisyRoom), ImaginedRegion.Medium, "room")]
    public void A_planted_fault_is_found_within_a_month_with_what_to_check_first(string kind, string site, string check)
    {
        var fault = new PlantedFault(Enum.Parse<FaultKind>(kind), site, Begin.AddDays(Year + 30));
        var found = Watch(11, fault, 60).First(f => f.Site == site && f.RaisedOn >= fault.From && fault.ShowsIn(f));
        Assert.True(fault.IsNamedBy(found.Cause.Factor), found.Cause.Factor.ToString());
        Assert.InRange(found.RaisedOn, fault.From, fault.From.AddDays(30));
        Assert.Equal(check, CheckFirst.For(found.Measure, found.Above, found.Cause.Factor.Kind)[0].Id);
    }

    private static IReadOnlyList<UnitFinding> Watch(int seed, PlantedFault? fault, int days)
    {
        var imagined = new ImagineSessions(seed, Births, fault);
        var plan = PlanWatch.From(imagined.Over(Begin, Year), Policy.Default, 1);
        return WatchRegion.Over(plan, imagined.Over(Begin.AddDays(Year), days), [], Policy.Default);
    }
}
