using Registry.Rules.Statistics;

namespace Registry.Rules.Disclosure;

/// <summary>Why a count is hidden. For the log and for tests; a reader sees one mark for both reasons.</summary>
public enum Suppression
{
    None,

    /// <summary>Non-zero and below the threshold.</summary>
    Small,

    /// <summary>Hidden so that a small one cannot be worked out.</summary>
    Complementary,
}

/// <summary>A count as it may be published.</summary>
/// <param name="Count">Null when hidden.</param>
/// <param name="Suppression">Why.</param>
public readonly record struct DisclosedCount(long? Count, Suppression Suppression);

/// <summary>A list and its total.</summary>
public sealed record DisclosedList(IReadOnlyList<DisclosedCount> Counts, DisclosedCount Total);

/// <summary>A two-way table with its totals.</summary>
/// <param name="Counts">Row by row.</param>
public sealed record DisclosedTable(
    IReadOnlyList<IReadOnlyList<DisclosedCount>> Counts,
    IReadOnlyList<DisclosedCount> RowTotals,
    IReadOnlyList<DisclosedCount> ColumnTotals,
    DisclosedCount GrandTotal);

/// <summary>
/// Hides the small counts of a published table, and as few others as it finds, so that a reader who knows every sum, the
/// rule, and that no hidden count is zero learns no more about a small count than that it is small. Totals are hidden only
/// when nothing else will do. Same input, same output.
/// </summary>
/// <remarks>The method and what it promises are in this folder's README; <see cref="CountNetwork"/> does the work.</remarks>
public static class SmallCounts
{
    /// <summary>The lowest usable threshold: below 3 only ones would be hidden, and the mark would give them away.</summary>
    public const int LowestThreshold = 3;

    /// <summary>Non-zero and below the threshold.</summary>
    public static bool IsSmall(long count, int threshold) => count > 0 && count < threshold;

    /// <summary>Whether a proportion may be shown by itself: neither its numerator nor what it leaves of the denominator is small.</summary>
    public static bool MayShow(Proportion proportion, int threshold)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(threshold, LowestThreshold);
        return !IsSmall(proportion.Numerator, threshold) && !IsSmall(proportion.Denominator - proportion.Numerator, threshold);
    }

    /// <param name="counts">Any number, each zero or more; their total is published beside them.</param>
    /// <param name="threshold">The smallest non-zero count that may be shown, at least <see cref="LowestThreshold"/>.</param>
    /// <exception cref="ArgumentOutOfRangeException">A count is negative, or the threshold is too low.</exception>
    public static DisclosedList Suppress(IReadOnlyList<long> counts, int threshold)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(threshold, LowestThreshold);
        foreach (var count in counts) ArgumentOutOfRangeException.ThrowIfNegative(count, nameof(counts));
        var total = Sum(counts);
        var network = new CountNetwork(2);
        var parts = counts.Select(count => network.Add(0, 1, count, 1 + count)).ToList();
        var whole = network.Add(1, 0, total, Dear(total, total));
        network.Protect(threshold);
        return new DisclosedList([.. parts.Select(k => network[k])], network[whole]);
    }

    /// <param name="counts">Rows by columns, each zero or more; row, column and grand totals are published beside them.</param>
    /// <param name="threshold">The smallest non-zero count that may be shown, at least <see cref="LowestThreshold"/>.</param>
    /// <exception cref="ArgumentOutOfRangeException">A count is negative, or the threshold is too low.</exception>
    public static DisclosedTable Suppress(long[,] counts, int threshold)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(threshold, LowestThreshold);
        foreach (var count in counts) ArgumentOutOfRangeException.ThrowIfNegative(count, nameof(counts));
        var (rows, columns) = (Enumerable.Range(0, counts.GetLength(0)).ToList(), Enumerable.Range(0, counts.GetLength(1)).ToList());
        var rowSums = rows.Select(i => Sum(columns.Select(j => counts[i, j]))).ToList();
        var columnSums = columns.Select(j => Sum(rows.Select(i => counts[i, j]))).ToList();
        var total = Sum(rowSums);

        // Nodes: the rows, the row of totals, the columns, the column of totals. Each count flows from its row to its column, the total
        // of a column on to the row of totals, the grand total to the column of totals, and the total of a row back to its row.
        var (totalRow, totalColumn) = (rows.Count, rows.Count + 1 + columns.Count);
        int Column(int j) => rows.Count + 1 + j;
        var network = new CountNetwork(totalColumn + 1);
        var inner = rows.Select(i => columns.Select(j => network.Add(i, Column(j), counts[i, j], 1 + counts[i, j])).ToList()).ToList();
        var rowTotals = rows.Select(i => network.Add(totalColumn, i, rowSums[i], Dear(rowSums[i], total))).ToList();
        var columnTotals = columns.Select(j => network.Add(Column(j), totalRow, columnSums[j], Dear(columnSums[j], total))).ToList();
        var grand = network.Add(totalRow, totalColumn, total, Dear(Dear(total, total), total));
        network.Protect(threshold);
        return new DisclosedTable(
            [.. inner.Select(row => (IReadOnlyList<DisclosedCount>)[.. row.Select(k => network[k])])],
            [.. rowTotals.Select(k => network[k])],
            [.. columnTotals.Select(k => network[k])],
            network[grand]);
    }

    /// <summary>The cost of hiding a total: more than that of hiding every count it could be spared for.</summary>
    private static long Dear(long count, long total) => checked(count + 2 * total + 1);

    private static long Sum(IEnumerable<long> counts) => counts.Aggregate(0L, (sum, count) => checked(sum + count));
}
