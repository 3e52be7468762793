using CsCheck;
using Registry.Rules.Disclosure;
using Registry.Rules.Statistics;
using Xunit;

namespace Registry.Rules.Tests.Disclosure;

public sealed class SmallCountsTests
{
    private static readonly Gen<long> Count = Gen.Frequency(
        (2, Gen.Const(0L)), (4, Gen.Long[1, 12]), (3, Gen.Long[5, 60]), (2, Gen.Long[100, 900]));

    private static readonly Gen<int> Threshold = Gen.OneOf(Gen.Const(3), Gen.Const(5), Gen.Const(6), Gen.Const(10), Gen.Const(16));

    private static readonly Gen<(long[,] Counts, int Threshold)> Tables =
        from rows in Gen.Int[1, 5]
        from columns in Gen.Int[1, 5]
        from counts in Count.Array2D[rows, columns]
        from threshold in Threshold
        select (counts, threshold);

    [Fact]
    public void In_random_tables_no_hidden_count_can_be_worked_out() =>
        Tables.Sample(t => CheckTable(t.Counts, t.Threshold), iter: 600, print: t => $"{t.Threshold}: {Text(t.Counts)}");

    [Fact]
    public void In_random_lists_no_hidden_count_can_be_worked_out() =>
        Gen.Select(Count.Array[0, 8], Threshold).Sample((counts, threshold) =>
        {
            var list = SmallCounts.Suppress(counts, threshold);
            Assert.All(counts.Zip(list.Counts), c => Assert.Equal(SmallCounts.IsSmall(c.First, threshold), c.Second.Suppression == Suppression.Small));
            Assert.All(counts.Zip(list.Counts), c => Assert.True(c.Second.Count is { } shown ? shown == c.First : c.First > 0));
            var hidden = list.Counts.Count(c => c.Count is null);
            if (list.Total.Count is not { } total)
            {
                // Without its total a part has no upper limit, and neither has the total while a part is hidden.
                Assert.True(hidden > 0);
                return;
            }

            // With it, hidden parts share what is left over: none can be more than that less one for each of the others.
            Assert.Equal(counts.Sum(), total);
            if (hidden == 0) return;
            var most = total - list.Counts.Sum(c => c.Count ?? 0) - (hidden - 1);
            Assert.True(hidden > 1 && most >= threshold - 1 && most > 1, $"{hidden} hidden, at most {most}");
        }, iter: 3000);

    [Fact]
    public void The_check_notices_a_table_that_can_be_worked_out()
    {
        // Only the small count is hidden: 100 − 96.
        var alone = Shown([[4, 96, 100], [50, 60, 110], [54, 156, 210]], [(0, 0)]);
        Assert.Equal((4, 4), new Reader(alone).Range((0, 0)));
        var cycle = Shown([[4, 96, 100], [50, 60, 110], [54, 156, 210]], [(0, 0), (0, 1), (1, 0), (1, 1)]);
        Assert.Equal((1, 53), new Reader(cycle).Range((0, 0)));

        // Two hidden in every row and column, and still known: two that are not zero and together 2 are 1 and 1.
        var squeezed = Shown([[1, 1, 2], [1, 60, 61], [2, 61, 63]], [(0, 0), (0, 1), (1, 0), (1, 1)]);
        Assert.Equal((1, 1), new Reader(squeezed).Range((0, 0)));
    }

    [Fact]
    public void A_table_hides_a_cycle_of_the_cheapest_cells()
    {
        long[,] counts = { { 4, 96, 300 }, { 50, 60, 400 }, { 500, 600, 700 } };
        var table = SmallCounts.Suppress(counts, 10);
        Assert.Equal(Suppression.Small, table.Counts[0][0].Suppression);
        Assert.Equal([(0, 0), (0, 1), (1, 0), (1, 1)], new Reader(table).Hidden);
        Assert.Equal(400, table.RowTotals[0].Count);
        CheckTable(counts, 10);
    }

    [Fact]
    public void A_list_hides_the_smallest_other_count()
    {
        var list = SmallCounts.Suppress([3, 40, 0, 25, 900], 10);
        Assert.Equal([null, 40, 0, null, 900], list.Counts.Select(c => c.Count));
        Assert.Equal(Suppression.Complementary, list.Counts[3].Suppression);
        Assert.Equal(968, list.Total.Count);
    }

    /// <summary>Hiding 1 and 1 beside a shown total would say that together they are 2.</summary>
    [Fact]
    public void Small_counts_whose_sum_is_small_need_a_third()
    {
        var list = SmallCounts.Suppress([1, 1, 200, 300], 10);
        Assert.Equal([null, null, null, 300], list.Counts.Select(c => c.Count));
    }

    [Fact]
    public void Two_small_counts_that_reach_the_threshold_together_need_no_third()
    {
        var list = SmallCounts.Suppress([9, 1, 200], 10);
        Assert.Equal([null, null, 200], list.Counts.Select(c => c.Count));
        Assert.Equal(210, list.Total.Count);
    }

    [Fact]
    public void With_nothing_else_to_hide_the_total_is_hidden()
    {
        var list = SmallCounts.Suppress([3, 0, 0], 10);
        Assert.Equal([null, 0, 0], list.Counts.Select(c => c.Count));
        Assert.Null(list.Total.Count);
    }

    [Fact]
    public void Nothing_small_nothing_hidden()
    {
        Assert.All(SmallCounts.Suppress([0, 10, 11, 0], 10).Counts, c => Assert.NotNull(c.Count));
        Assert.Empty(SmallCounts.Suppress([], 10).Counts);
        Assert.Equal(0, SmallCounts.Suppress([], 10).Total.Count);
        Assert.Empty(new Reader(SmallCounts.Suppress(new long[,] { { 0, 10 }, { 20, 0 } }, 10)).Hidden);
        Assert.Equal(0, SmallCounts.Suppress(new long[0, 0], 10).GrandTotal.Count);
    }

    [Fact]
    public void Impossible_arguments_are_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => SmallCounts.Suppress([-1], 10));
        Assert.Throws<ArgumentOutOfRangeException>(() => SmallCounts.Suppress(new long[,] { { -1 } }, 10));
        Assert.Throws<ArgumentOutOfRangeException>(() => SmallCounts.Suppress([1], 2));
        Assert.Throws<ArgumentOutOfRangeException>(() => SmallCounts.MayShow(new Proportion(1, 2), 2));
    }

    [Theory]
    [InlineData(0, 0, true)]
    [InlineData(0, 50, true)]
    [InlineData(50, 50, true)]
    [InlineData(9, 50, false)]
    [InlineData(10, 50, true)]
    [InlineData(41, 50, false)]
    [InlineData(0, 5, false)]
    public void A_proportion_is_shown_when_both_its_sides_may_be(long numerator, long denominator, bool shown) =>
        Assert.Equal(shown, SmallCounts.MayShow(new Proportion(numerator, denominator), 10));

    /// <summary>300 sites by twelve lines, a third of the counts small.</summary>
    [Fact]
    public void A_table_of_the_size_of_a_state_is_settled_in_seconds()
    {
        var counts = new long[300, 12];
        for (var i = 0; i < 300; i++)
            for (var j = 0; j < 12; j++) counts[i, j] = (i * 7919 + j * 104729) % (j < 4 ? 12 : 400);
        var watch = System.Diagnostics.Stopwatch.StartNew();
        var table = SmallCounts.Suppress(counts, 10);
        TestContext.Current.TestOutputHelper?.WriteLine(
            $"{table.Counts.Sum(r => r.Count(c => c.Suppression == Suppression.Small))} small, {table.Counts.Sum(r => r.Count(c => c.Suppression == Suppression.Complementary))} complementary: {watch.ElapsedMilliseconds} ms");
        Assert.True(watch.Elapsed < TimeSpan.FromSeconds(20), $"{watch.Elapsed}");
    }

    private static void CheckTable(long[,] counts, int threshold)
    {
        var table = SmallCounts.Suppress(counts, threshold);
        var reader = new Reader(table);
        var (rows, columns) = (counts.GetLength(0), counts.GetLength(1));
        var all = Reader.WithTotals(table);
        for (var i = 0; i <= rows; i++)
        {
            for (var j = 0; j <= columns; j++)
            {
                var parts = Parts(counts, i, j).ToList();
                var (actual, shown) = (parts.Sum(), all[i, j]);
                Assert.Equal(SmallCounts.IsSmall(actual, threshold), shown.Suppression == Suppression.Small);
                if (shown.Suppression == Suppression.None) Assert.Equal(actual, shown.Count);
                else
                {
                    Assert.Null(shown.Count);
                    Assert.NotEqual(0, actual);
                }

                if (shown.Suppression == Suppression.None) continue;
                var (least, most) = reader.Range((i, j));
                Assert.True(most > least, $"({i},{j}) is {actual}: {least} to {most}");
                Assert.InRange(actual, least, most);
                if (shown.Suppression != Suppression.Small) continue;
                Assert.True(most >= threshold - 1, $"({i},{j}) is {actual}: {least} to {most}");
                Assert.True(least <= parts.Count(p => p > 0), $"({i},{j}) is {actual}: {least} to {most}");
            }
        }
    }

    /// <summary>The inner counts behind a cell of the table with totals.</summary>
    private static IEnumerable<long> Parts(long[,] counts, int row, int column)
    {
        var (rows, columns) = (counts.GetLength(0), counts.GetLength(1));
        for (var i = 0; i < rows; i++)
            for (var j = 0; j < columns; j++)
                if ((row == rows || row == i) && (column == columns || column == j)) yield return counts[i, j];
    }

    private static DisclosedCount[,] Shown(long[][] all, (int, int)[] hidden)
    {
        var shown = new DisclosedCount[all.Length, all[0].Length];
        for (var i = 0; i < all.Length; i++)
            for (var j = 0; j < all[i].Length; j++)
                shown[i, j] = hidden.Contains((i, j)) ? new(null, Suppression.Small) : new(all[i][j], Suppression.None);
        return shown;
    }

    private static string Text(long[,] counts) =>
        string.Join(" / ", Enumerable.Range(0, counts.GetLength(0)).Select(i => string.Join(' ', Enumerable.Range(0, counts.GetLength(1)).Select(j => counts[i, j]))));
}
