using Microsoft.Extensions.DependencyInjection;
using Registry.Demo;
using Registry.Platform;
using Registry.Reporting.Measures;
using Registry.Rules;
using Registry.Rules.Disclosure;
using Registry.Rules.Measures;
using Registry.Rules.Tests.Disclosure;
using Registry.Tests.Intake;

namespace Registry.Tests.Reporting.Measures;

/// <summary>
/// An attack on every release of the invented region: a reader with a linear-programming library, all breakdowns of a year together and
/// the definitions of the lines, narrows no small count to less than the protection interval. Its neighbours too: other as-of
/// days, other regions.
/// </summary>
public sealed class ReleaseAuditTests(TestDatabase database)
{
    [Theory]
    [InlineData(300, DemoRegion.DefaultSeed)]
    [InlineData(1_500, 7UL)]
    [InlineData(DemoRegion.DefaultBirths, DemoRegion.DefaultSeed)]
    public async Task No_small_count_of_a_release_can_be_narrowed(int births, ulong seed)
    {
        await using var bed = await IntakeBed.OnAsync(await RegistryApp.StartWithDemonstrationAsync(database, births, seed));
        var (small, solved) = (0, 0);
        foreach (var (year, months) in new[] { (2024, 10), (2025, 8), (2025, 9), (2025, 10) })
        {
            var narrowed = await NarrowAsync(bed, year, (Policy.Default with { ReleaseAfterMonths = months }).ReleaseDay(year));
            small += narrowed.Count;
            solved += narrowed.Count(n => n.Solved);
            Assert.All(narrowed, n => Assert.True(n.AtLeast(Policy.Default.ReleaseProtection), $"births of {year}, {months} months: {n}"));
        }

        Assert.True(small > 200, $"{small}");
        Assert.Equal(0, solved);
    }

    private static async Task<List<Narrowed>> NarrowAsync(IntakeBed bed, int year, DateOnly asOf)
    {
        var measures = bed.App.Services.GetRequiredService<ComputeMeasures>();
        var known = bed.App.Services.GetRequiredService<ProgramClock>().EndOf(asOf);
        var measured = new List<Measured>();
        foreach (var breakdown in Enum.GetValues<Breakdown>())
            measured.Add(await measures.RunAsync(
                new(new(year, 1, 1), new(year, 12, 31), asOf, known, breakdown, null),
                forRelease: breakdown == Breakdown.None, IntakeBed.Ct));
        var hidden = measured[0].Hidden!;
        var audit = new ReleaseAudit([.. measured.Select(m => m.Table)],
            (b, g, l) => ReleasedLines.Lines(b == Breakdown.None).Contains(l) ? hidden.Contains(b, g, l) : null, ReleasedDefinitions.All);
        Assert.Empty(audit.SmallAndShown);
        return [.. audit.Narrow()];
    }
}
