namespace Registry.Rules.Tests.Disclosure;

/// <summary>
/// The simplex method in two phases with Bland's rule, dense and slow: minimise c·x subject to A·x = b, x ≥ 0. Here to judge
/// the suppression of small counts by a method that shares nothing with it.
/// </summary>
internal static class LinearProgram
{
    private const double Epsilon = 1e-7;

    /// <returns>The minimum; negative infinity when there is none.</returns>
    public static double Minimise(double[] c, double[][] a, double[] b)
    {
        var (n, m) = (c.Length, b.Length);
        var tableau = new double[m][];
        var basis = new int[m];
        for (var i = 0; i < m; i++)
        {
            var sign = b[i] < 0 ? -1 : 1;
            tableau[i] = new double[n + m + 1];
            for (var j = 0; j < n; j++) tableau[i][j] = sign * a[i][j];
            tableau[i][n + i] = 1;
            tableau[i][^1] = sign * b[i];
            basis[i] = n + i;
        }

        var artificial = Enumerable.Range(0, n + m).Select(j => j < n ? 0.0 : 1.0).ToArray();
        if (Solve(tableau, basis, artificial, n + m) > Epsilon) throw new InvalidOperationException("No solution at all.");

        // Artificial variables still in the basis are zero: swap them out, or drop the row, which then says nothing new.
        var rows = new List<int>();
        for (var i = 0; i < m; i++)
        {
            if (basis[i] >= n && Enumerable.Range(0, n).FirstOrDefault(j => Math.Abs(tableau[i][j]) > Epsilon, -1) is var j and >= 0) Pivot(tableau, basis, i, j);
            if (basis[i] < n) rows.Add(i);
        }

        return Solve([.. rows.Select(i => tableau[i])], [.. rows.Select(i => basis[i])], [.. c, .. new double[m]], n);
    }

    private static double Solve(double[][] tableau, int[] basis, double[] cost, int columns)
    {
        while (true)
        {
            var enter = Enumerable.Range(0, columns).FirstOrDefault(j => cost[j] - basis.Select((k, i) => cost[k] * tableau[i][j]).Sum() < -Epsilon, -1);
            if (enter < 0) return basis.Select((k, i) => cost[k] * tableau[i][^1]).Sum();
            var leave = Enumerable.Range(0, basis.Length).Where(i => tableau[i][enter] > Epsilon)
                .OrderBy(i => Math.Round(tableau[i][^1] / tableau[i][enter], 6)).ThenBy(i => basis[i]).FirstOrDefault(-1);
            if (leave < 0) return double.NegativeInfinity;
            Pivot(tableau, basis, leave, enter);
        }
    }

    private static void Pivot(double[][] tableau, int[] basis, int row, int column)
    {
        var factor = tableau[row][column];
        for (var j = 0; j < tableau[row].Length; j++) tableau[row][j] /= factor;
        foreach (var other in tableau)
        {
            if (ReferenceEquals(other, tableau[row]) || other[column] == 0) continue;
            var times = other[column];
            for (var j = 0; j < other.Length; j++) other[j] -= times * tableau[row][j];
        }

        basis[row] = column;
    }
}
