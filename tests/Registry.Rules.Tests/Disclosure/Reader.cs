using Registry.Rules.Disclosure;

namespace Registry.Rules.Tests.Disclosure;

/// <summary>
/// What somebody who sees only a published table can work out about a hidden count: the range of values it takes over all tables
/// of non-zero hidden counts with the shown counts and correct sums. The limits are whole numbers, since the equations of a
/// two-way table are totally unimodular.
/// </summary>
internal sealed class Reader
{
    private readonly DisclosedCount[,] _shown;
    private readonly (int Row, int Column)[] _hidden;
    private readonly double[][] _equations;
    private readonly double[] _known;

    /// <param name="table">As published; totals become a last row and column, each row and column summing to its last.</param>
    public Reader(DisclosedTable table)
        : this(WithTotals(table))
    {
    }

    public Reader(DisclosedCount[,] shown)
    {
        _shown = shown;
        var (rows, columns) = (shown.GetLength(0), shown.GetLength(1));
        _hidden = [.. from i in Enumerable.Range(0, rows) from j in Enumerable.Range(0, columns) where shown[i, j].Count is null select (i, j)];
        var equations = new List<double[]>();
        var known = new List<double>();
        for (var i = 0; i < rows; i++) Equate(i, null);
        for (var j = 0; j < columns; j++) Equate(null, j);
        (_equations, _known) = ([.. equations], [.. known]);

        void Equate(int? row, int? column)
        {
            var equation = new double[_hidden.Length];
            double right = 0;
            for (var i = 0; i < rows; i++)
            {
                for (var j = 0; j < columns; j++)
                {
                    if (row is not null && row != i || column is not null && column != j) continue;
                    var sign = (row is null ? i == rows - 1 : j == columns - 1) ? -1 : 1;
                    if (shown[i, j].Count is { } count) right -= sign * count;
                    else
                    {
                        // A hidden count is 1 more than a variable that is not negative.
                        equation[Array.IndexOf(_hidden, (i, j))] = sign;
                        right -= sign;
                    }
                }
            }

            equations.Add(equation);
            known.Add(right);
        }
    }

    public IReadOnlyList<(int Row, int Column)> Hidden => _hidden;

    public Suppression Why((int Row, int Column) cell) => _shown[cell.Row, cell.Column].Suppression;

    public (double Least, double Most) Range((int Row, int Column) cell)
    {
        var (least, most) = (new double[_hidden.Length], new double[_hidden.Length]);
        (least[Array.IndexOf(_hidden, cell)], most[Array.IndexOf(_hidden, cell)]) = (1, -1);
        return (Math.Round(1 + LinearProgram.Minimise(least, _equations, _known), 4), Math.Round(1 - LinearProgram.Minimise(most, _equations, _known), 4));
    }

    public static DisclosedCount[,] WithTotals(DisclosedTable table)
    {
        var (rows, columns) = (table.RowTotals.Count, table.ColumnTotals.Count);
        var all = new DisclosedCount[rows + 1, columns + 1];
        for (var i = 0; i < rows; i++)
        {
            for (var j = 0; j < columns; j++) all[i, j] = table.Counts[i][j];
            all[i, columns] = table.RowTotals[i];
        }

        for (var j = 0; j < columns; j++) all[rows, j] = table.ColumnTotals[j];
        all[rows, columns] = table.GrandTotal;
        return all;
    }
}
