using Registry.Rules.Disclosure;
using Registry.Rules.Measures;
using Registry.Rules.Tests.Measures;
using Xunit;

namespace Registry.Rules.Tests.Disclosure;

/// <summary>
/// Hiding cannot be undone: a reader with a linear-programming library (<see cref="ReleaseAudit"/>) who knows the definitions of the
/// lines narrows no small count to less than the protection interval, in all breakdowns together.
/// </summary>
public sealed class HiddenCountsTests
{
    private static readonly LiesWithin[] Definitions = ReleasedDefinitions.All;
    private static readonly MeasureSet Set = MeasureSet.Under(Policy.Default);

    private static readonly int Protection = Policy.Default.ReleaseProtection;

    /// <summary>The auditor's definitions are all there is to know: of any two released lines, on infants of every kind, one lies within
    /// the other, or both exclude each other, only where the definitions say so.</summary>
    [Fact]
    public void Nothing_else_holds_between_two_released_lines()
    {
        var lines = Set.Lines.Where(l => ReleasedLines.OfTheWhole.Contains(l.Code)).ToList();
        var seen = new HashSet<(string, string, bool, bool)>();
        foreach (var infant in InventInfants.Make(60_000, new DateOnly(2026, 10, 31)).Where(i => i.BornInRegion))
        {
            var has = lines.Select(l => l.Count(infant) > 0).ToArray();
            for (var a = 0; a < lines.Count; a++)
                for (var b = 0; b < lines.Count; b++)
                    if (a != b) seen.Add((lines[a].Code, lines[b].Code, has[a], has[b]));
        }

        var found = new List<string>();
        foreach (var a in lines.Select(l => l.Code))
            foreach (var b in lines.Select(l => l.Code).Where(b => b != a && b != ReleasedLines.Headline))
            {
                if (Inside(a, b) == seen.Contains((a, b, true, false))) found.Add($"{a} within {b}");
                if (Apart(a, b) == seen.Contains((a, b, true, true))) found.Add($"{a} apart from {b}");
                if (a != ReleasedLines.Headline && !seen.Contains((a, b, false, false))) found.Add($"{a} or {b}");
            }

        Assert.Empty(found);
    }

    [Theory]
    [InlineData(2)]
    [InlineData(8)]
    [InlineData(40)]
    [InlineData(400)]
    public void No_small_count_is_narrowed_to_less_than_the_protection_interval(int scale)
    {
        var random = new Random(scale);
        for (var round = 0; round < 25; round++)
        {
            var tables = Tables(random, scale);
            var hidden = HiddenCounts.Of(tables, Policy.Default);
            Assert.All(Audit(tables, hidden), n => Assert.True(n.AtLeast(Protection), $"round {round}: {n}\n{Shown(tables, hidden)}"));
        }
    }

    /// <summary>A closed year of one group: 12 without permanent loss and 13 diagnosed in time tell of one child.</summary>
    [Fact]
    public void Small_counts_alone_are_not_enough_which_is_what_the_auditor_must_notice()
    {
        var tables = Tables(new Random(5), 40);
        var audit = new ReleaseAudit(tables,
            (b, g, l) => ReleasedLines.Lines(b == Breakdown.None).Contains(l) ? IsSmall(tables, b, g, l) : null, Definitions);
        Assert.Contains(audit.Narrow(), n => n.Solved);
    }

    [Fact]
    public void Large_counts_are_shown_and_zeros_too_the_headline_always()
    {
        // 9,872 of 9,988 screened; of 40 with permanent loss 4 are lost and 25 enrolled, 5 of them late.
        var whole = Row(9_988, 9_872, 60, 9_700, 100, 60, 20, 45, 40, 25, 4, 20);
        var table = new MeasureTable(Set, Breakdown.None, new(Tabulate.Whole, whole), []);
        var hidden = HiddenCounts.Of([table], Policy.Default);
        Assert.Equal(["intervention.lost", "intervention.before_6_months"],
            ReleasedLines.OfTheWhole.Where(l => hidden.Contains(Breakdown.None, Tabulate.Whole, l)));
    }

    [Fact]
    public void Every_breakdown_of_a_whole_report_is_settled_in_seconds()
    {
        var tabulate = new Tabulate(Set, Enum.GetValues<Breakdown>());
        foreach (var infant in InventInfants.Make(6_000, new DateOnly(2026, 6, 30))) tabulate.Add(infant);
        var tables = Enum.GetValues<Breakdown>().Select(tabulate.Result).ToList();
        var watch = System.Diagnostics.Stopwatch.StartNew();
        var hidden = HiddenCounts.Of(tables, Policy.Default);
        TestContext.Current.TestOutputHelper?.WriteLine($"{tables.Sum(t => t.Groups.Count)} groups: {watch.ElapsedMilliseconds} ms");
        Assert.True(watch.Elapsed < TimeSpan.FromSeconds(20), $"{watch.Elapsed}");
        Assert.All(Audit(tables, hidden), n => Assert.True(n.AtLeast(Protection), n.ToString()));
    }

    private static IEnumerable<Narrowed> Audit(IReadOnlyList<MeasureTable> tables, HiddenCounts hidden)
    {
        var audit = new ReleaseAudit(
            tables, (b, g, l) => ReleasedLines.Lines(b == Breakdown.None).Contains(l) ? hidden.Contains(b, g, l) : null, Definitions);
        Assert.Empty(audit.SmallAndShown);
        return audit.Narrow();
    }

    private static bool IsSmall(List<MeasureTable> tables, Breakdown breakdown, string group, string line)
    {
        var table = tables.First(t => t.Breakdown == breakdown);
        return table.Count(table.Groups.Prepend(table.Whole).First(g => g.Name == group), line) is > 0 and < 10;
    }

    private static bool Inside(string a, string b) =>
        Definitions.Any(d => d.Parts.Contains(a) && (d.Of == b || Inside(d.Of, b)));

    private static bool Apart(string a, string b) =>
        Definitions.Any(d => d.Parts.Any(p => In(a, p)) && d.Parts.Any(q => In(b, q) && !In(a, q)));

    private static bool In(string a, string b) => a == b || Inside(a, b);

    private static string Shown(List<MeasureTable> tables, HiddenCounts hidden) => string.Join('\n', tables
        .SelectMany(t => t.Groups.Select(g => (t.Breakdown, Group: g))).Prepend((Breakdown.None, tables[0].Whole))
        .Select(g => $"{g.Item1} {g.Item2.Name}: " + string.Join(' ', ReleasedLines.Lines(g.Item1 == Breakdown.None).Select(l =>
            hidden.Contains(g.Item1, g.Item2.Name, l) ? $"({tables[0].Count(g.Item2, l)})" : $"{tables[0].Count(g.Item2, l)}"))));

    /// <summary>Invented births by site and by county: cells of site × county, summed each way.</summary>
    private static List<MeasureTable> Tables(Random random, int scale)
    {
        var (sites, counties) = (2 + random.Next(6), 2 + random.Next(4));
        var cells = new int[sites, counties][];
        int Some(int of) => random.Next(of + 1);
        for (var s = 0; s < sites; s++)
            for (var c = 0; c < counties; c++)
            {
                // Most are screened, few do not pass, as in a region; sometimes anything.
                var any = random.Next(4) == 0;
                var births = random.Next(scale * 5);
                var screened = any ? Some(births) : births - Some(births / 40);
                var notPass = any ? Some(screened) : Some(screened / 20);
                var (documented, loss) = (Some(notPass), Some(births / 20));
                var enrolled = Some(loss);
                cells[s, c] = Row(births, screened, Some(births - screened), Some(screened), notPass, documented,
                    Some(notPass - documented), Some(documented), loss, enrolled, Some(loss - enrolled), Some(enrolled));
            }

        int[] Sum(IEnumerable<int[]> rows) => [.. Enumerable.Range(0, Set.Lines.Count).Select(k => rows.Sum(r => r[k]))];
        var bySite = Enumerable.Range(0, sites)
            .Select(s => new GroupCounts($"s{s}", Sum(Enumerable.Range(0, counties).Select(c => cells[s, c])))).ToList();
        var byCounty = Enumerable.Range(0, counties)
            .Select(c => new GroupCounts($"c{c}", Sum(Enumerable.Range(0, sites).Select(s => cells[s, c])))).ToList();
        var whole = new GroupCounts(Tabulate.Whole, Sum(bySite.Select(g => g.Counts)));
        return [new(Set, Breakdown.None, whole, []), new(Set, Breakdown.Site, whole, bySite), new(Set, Breakdown.County, whole, byCounty)];
    }

    /// <summary>Counts of the released lines in their order, no infant in any other line.</summary>
    private static int[] Row(params int[] released)
    {
        var at = ReleasedLines.OfTheWhole.Zip(released).ToDictionary(p => p.First, p => p.Second);
        return [.. Set.Lines.Select(l => at.GetValueOrDefault(l.Code))];
    }
}
