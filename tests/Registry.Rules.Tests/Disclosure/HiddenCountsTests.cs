using Registry.Rules.Disclosure;
using Registry.Rules.Measures;
using Registry.Rules.Tests.Measures;
using Xunit;

namespace Registry.Rules.Tests.Disclosure;

/// <summary>
/// Suppression cannot be undone: a search that knows nothing of how counts were hidden looks, for every small count, for a
/// second table that agrees with everything shown. It knows what a stranger knows: the sums, the whole, that no hidden
/// count is zero.
/// </summary>
public sealed class HiddenCountsTests
{
    private const int Threshold = 10;

    private static readonly MeasureSet Small = new(
        [.. new[] { "births", "screened", "none", "none.a", "none.b", "none.c", "lost" }.Select(c => Line.Of(c, c, _ => false))],
        [Share("screened", "births"), Share("lost", "births"), Share("none.a", "none"), Share("none.b", "none"), Share("none.c", "none")],
        [
            new("births", "births", ["screened", "none"]),
            new("none", "none", ["none.a", "none.b", "none.c"]),
            new("lost", "lost", ["none.a", "none.b"]),
        ]);

    [Fact]
    public void No_small_count_can_be_computed_from_what_is_shown_in_all_breakdowns_together()
    {
        var random = new Random(11);
        for (var round = 0; round < 120; round++)
        {
            var tables = Tables(random, sites: 1 + random.Next(3), counties: 1 + random.Next(2),
                scale: random.Next(3) switch { 0 => 3, 1 => 8, _ => 30 });
            var hidden = HiddenCounts.Of(tables, Threshold);
            var reader = new StrangersKnowledge(tables, hidden);
            foreach (var cell in reader.SmallCounts)
                Assert.True(reader.CouldBeAnother(cell), $"round {round}: {reader.Name(cell)} can be computed\n{Shown(tables, hidden)}");
        }
    }

    [Fact]
    public void Small_counts_alone_are_not_enough_which_is_what_the_search_must_notice()
    {
        var table = new MeasureTable(Small, Breakdown.None, new("all", [500, 496, 4, 4, 0, 0, 4]), []);
        var reader = new StrangersKnowledge([table], (_, _, line) => table.Count(table.Whole, line) is > 0 and < Threshold);
        Assert.All(reader.SmallCounts, cell => Assert.False(reader.CouldBeAnother(cell)));
    }

    [Fact]
    public void Large_counts_are_shown_and_zeros_too()
    {
        var table = new MeasureTable(Small, Breakdown.None, new("all", [500, 400, 100, 50, 0, 50, 50]), []);
        var hidden = HiddenCounts.Of([table], Threshold);
        Assert.All(Small.Lines, l => Assert.False(hidden.Contains(Breakdown.None, "all", l.Code)));
    }

    [Fact]
    public void Every_breakdown_of_a_whole_report_is_settled_in_seconds()
    {
        var set = MeasureSet.Under(Policy.Default);
        var tabulate = new Tabulate(set, Enum.GetValues<Breakdown>());
        foreach (var infant in InventInfants.Make(6_000, new DateOnly(2026, 6, 30))) tabulate.Add(infant);
        var tables = Enum.GetValues<Breakdown>().Select(tabulate.Result).ToList();
        var watch = System.Diagnostics.Stopwatch.StartNew();
        var hidden = HiddenCounts.Of(tables);
        TestContext.Current.TestOutputHelper?.WriteLine($"{tables.Sum(t => t.Groups.Count)} groups: {watch.ElapsedMilliseconds} ms");
        foreach (var table in tables)
            foreach (var group in table.Groups)
                foreach (var line in set.Lines)
                    if (table.Count(group, line.Code) is > 0 and < HiddenCounts.DefaultThreshold)
                        Assert.True(hidden.Contains(table.Breakdown, group.Name, line.Code));
        Assert.True(watch.Elapsed < TimeSpan.FromSeconds(20), $"{watch.Elapsed}");
        var reader = new StrangersKnowledge(tables, hidden);
        Assert.All(reader.SmallCounts.Where((_, k) => k % 20 == 0), cell => Assert.True(reader.CouldBeAnother(cell), reader.Name(cell)));
    }

    private static string Shown(List<MeasureTable> tables, HiddenCounts hidden) => string.Join('\n', tables
        .SelectMany(t => t.Groups.Select(g => (t.Breakdown, Group: g))).Prepend((Breakdown.None, tables[0].Whole))
        .Select(g => $"{g.Item1} {g.Item2.Name}: " + string.Join(' ', Small.Lines.Select((l, k) =>
            hidden.Contains(g.Item1, g.Item2.Name, l.Code) ? $"({g.Item2.Counts[k]})" : $"{g.Item2.Counts[k]}"))));

    private static Ratio Share(string numerator, string denominator) =>
        new($"{numerator}.of_{denominator}", numerator, MeasureGroup.NationalSurvey, numerator, denominator,
            new("test", SourceMark.Ours))
        { Page = "test" };

    /// <summary>The same births by site and by county: cells of site × county, summed each way.</summary>
    private static List<MeasureTable> Tables(Random random, int sites, int counties, int scale)
    {
        var cells = new int[sites, counties][];
        for (var s = 0; s < sites; s++)
            for (var c = 0; c < counties; c++)
            {
                var (a, b, d, screened) = (random.Next(scale), random.Next(scale), random.Next(scale), random.Next(scale * 10));
                cells[s, c] = [screened + a + b + d, screened, a + b + d, a, b, d, a + b];
            }

        int[] Sum(IEnumerable<int[]> rows) => [.. Enumerable.Range(0, Small.Lines.Count).Select(k => rows.Sum(r => r[k]))];
        var bySite = Enumerable.Range(0, sites)
            .Select(s => new GroupCounts($"s{s}", Sum(Enumerable.Range(0, counties).Select(c => cells[s, c])))).ToList();
        var byCounty = Enumerable.Range(0, counties)
            .Select(c => new GroupCounts($"c{c}", Sum(Enumerable.Range(0, sites).Select(s => cells[s, c])))).ToList();
        var whole = new GroupCounts(Tabulate.Whole, Sum(bySite.Select(g => g.Counts)));
        return [new(Small, Breakdown.None, whole, []), new(Small, Breakdown.Site, whole, bySite),
            new(Small, Breakdown.County, whole, byCounty)];
    }
}
