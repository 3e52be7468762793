using Registry.Rules.Measures;
using Xunit;

namespace Registry.Rules.Tests.Measures;

/// <summary>The definitions hang together, and lines that must add up do on invented infants of every kind.</summary>
public sealed class MeasureSetTests
{
    private static readonly MeasureSet Set = MeasureSet.Under(Policy.Default);

    [Fact]
    public void Codes_are_unique_and_every_reference_exists()
    {
        var lines = Set.Lines.Select(l => l.Code).ToList();
        Assert.Equal(lines.Distinct(), lines);
        var ratios = Set.Ratios.Select(r => r.Code).ToList();
        Assert.Equal(ratios.Distinct(), ratios);
        var used = Set.Ratios.SelectMany(r => r.Exclusions.Append(r.Numerator).Append(r.Denominator))
            .Concat(Set.Sums.SelectMany(s => s.Parts.Append(s.Total))).Where(c => c != MeasureSet.VitalBirths);
        Assert.Empty(used.Except(lines));
    }

    [Theory]
    [InlineData("2025-02-10")]
    [InlineData("2025-07-01")]
    [InlineData("2026-06-30")]
    public void Every_sum_holds_in_the_whole_and_in_every_group(string asOf)
    {
        foreach (var breakdown in new[] { Breakdown.Site, Breakdown.BirthMonth, Breakdown.Nicu })
        {
            var table = new Tabulate(Set, breakdown);
            foreach (var infant in InventInfants.Make(6_000, DateOnly.Parse(asOf, System.Globalization.CultureInfo.InvariantCulture)))
                table.Add(infant);
            var result = table.Result(breakdown);
            var broken = result.Checks().Where(c => !c.Holds).Select(c => $"{c.Group}: {c.Sum.Name}: {c.Parts} of {c.Total}").ToList();
            Assert.True(broken.Count == 0, string.Join('\n', broken.Take(20)));
            foreach (var line in Set.Lines)
                Assert.Equal(result.Count(result.Whole, line.Code), result.Groups.Sum(g => result.Count(g, line.Code)));
        }
    }

    [Fact]
    public void Every_numerator_lies_within_its_denominator_infant_by_infant()
    {
        var lines = Set.Lines.ToDictionary(l => l.Code);
        foreach (var infant in InventInfants.Make(6_000, new DateOnly(2026, 2, 1)))
            foreach (var r in Set.Ratios.Where(r => !r.OfOthers))
                Assert.True(
                    lines[r.Numerator].Count(infant) <= lines[r.Denominator].Count(infant),
                    $"{r.Code}: in the numerator, not in the denominator");
    }

    [Fact]
    public void Every_line_counts_somebody_except_reasons_the_rules_never_give()
    {
        var table = new Tabulate(Set, Breakdown.None);
        foreach (var infant in InventInfants.Make(60_000, new DateOnly(2026, 6, 30))) table.Add(infant);
        foreach (var infant in InventInfants.Make(20_000, new DateOnly(2025, 6, 30), seed: 5)) table.Add(infant);
        var result = table.Result();
        Assert.Equal(
            ["diagnosis.none.other", "screening.none.other", "timeliness.diagnosed.excluded.other"],
            Set.Lines.Where(l => result.Count(result.Whole, l.Code) == 0).Select(l => l.Code).Order());
    }

    [Fact]
    public void No_data_meets_no_target_and_misses_none()
    {
        var target = Set.Ratios.First(r => r.Code == "benchmark.screened").Target!;
        Assert.Null(target.IsMetBy(0, 0));
        Assert.False(target.IsMetBy(95, 100));
        Assert.True(target.IsMetBy(96, 100));
    }
}
