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

        // Nine in ten are: of five, four.
        var regions = Enumerable.Range(11, 5).ToList();
        var found = regions.ConvertAll(seed => Watch(seed, fault, 60)
            .FirstOrDefault(f => f.Site == site && f.RaisedOn >= fault.From && f.RaisedOn < fault.From.AddDays(30) && fault.ShowsIn(f)));
        Assert.InRange(found.Count(f => f is not null), 4, 5);
        Assert.InRange(found.Count(f => f is not null && fault.IsNamedBy(f.Cause.Factor)
            && CheckFirst.For(f.Measure, f.Above, f.Cause.Factor.Kind)[0].Id == check), 4, 5);
    }

    private static IReadOnlyList<UnitFinding> Watch(int seed, PlantedFault? fault, int days)
    {
        var imagined = new ImagineSessions(seed, Births, fault);
        var plan = PlanWatch.From(imagined.Over(Begin, Year), Policy.Default, 1);
        return WatchRegion.Over(plan, imagined.Over(Begin.AddDays(Year), days), [], Policy.Default);
    }
}
