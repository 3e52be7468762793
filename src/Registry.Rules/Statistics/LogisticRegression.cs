namespace Registry.Rules.Statistics;

/// <summary>Trials that are alike.</summary>
/// <param name="X">Covariates, one per coefficient; a constant 1 for an intercept.</param>
/// <param name="Trials">How many, not negative.</param>
/// <param name="Events">How many had the outcome, at most <paramref name="Trials"/>.</param>
/// <param name="Offset">Known part of the logit.</param>
public sealed record GroupedTrials(double[] X, double Trials, double Events, double Offset = 0);

/// <summary>A fitted model.</summary>
/// <param name="Coefficients">Log odds ratios, in the order of the covariates; 0 for one that the others already say.</param>
/// <param name="StandardErrors">From the inverse information; infinite for one that the others already say.</param>
/// <param name="Deviance">−2 log-likelihood against the saturated model of the groups.</param>
/// <param name="Converged">False where the likelihood has no maximum (separation without a penalty) or 100 steps were not enough.</param>
public sealed record LogisticFit(
    IReadOnlyList<double> Coefficients, IReadOnlyList<double> StandardErrors, double Deviance, bool Converged);

/// <summary>
/// Logistic regression of grouped binomial data by iteratively reweighted least squares (Newton's method on the likelihood; McCullagh
/// and Nelder, Generalized Linear Models, 1989), with an optional ridge penalty per coefficient (Le Cessie and van Houwelingen, Appl
/// Stat 1992;41:191).
/// </summary>
/// <remarks>
/// Separation, a group in which nobody or everybody had the outcome, has no finite maximum. A ridge penalty was preferred to Firth's
/// (Biometrika 1993;80:27) for two reasons: with the intercept not penalized the expected counts still add up to the observed ones, which
/// an observed / expected comparison needs and Firth's does not give; and a rare combination falls back to its main effects, not to
/// one half.
/// </remarks>
public static class LogisticRegression
{
    private const int MaxSteps = 100;

    /// <param name="rows">At least one; all with as many covariates.</param>
    /// <param name="ridge">Penalty per coefficient, not negative: ½·λ·β² is taken off the log-likelihood, as a normal prior with
    /// variance 1/λ would. Null or 0: none.</param>
    /// <exception cref="ArgumentException">No rows, or rows of different lengths.</exception>
    public static LogisticFit Fit(IReadOnlyList<GroupedTrials> rows, IReadOnlyList<double>? ridge = null)
    {
        if (rows.Count == 0) throw new ArgumentException("Nothing to fit.", nameof(rows));
        var size = rows[0].X.Length;
        if (rows.Any(r => r.X.Length != size) || (ridge is not null && ridge.Count != size))
            throw new ArgumentException("Rows or penalties of different lengths.", nameof(rows));
        var penalty = ridge?.ToArray() ?? new double[size];
        var beta = new double[size];
        var best = Objective(rows, beta, penalty);
        for (var step = 0; step < MaxSteps; step++)
        {
            var (information, score) = Derivatives(rows, beta, penalty);
            var aliased = Invert(information);
            var change = new double[size];
            for (var j = 0; j < size; j++)
                for (var k = 0; k < size; k++) change[j] += information[j, k] * score[k];
            var (next, value) = (Moved(beta, change, 1), 0.0);
            var scale = 1.0;
            while ((value = Objective(rows, next, penalty)) < best - 1e-9 * Math.Abs(best) && scale > 1e-6)
                next = Moved(beta, change, scale /= 2);
            beta = next;
            best = value;
            if (change.Max(Math.Abs) * scale < 1e-9) return Result(rows, beta, information, aliased, converged: true);
            if (beta.Max(Math.Abs) > 50) return Result(rows, beta, information, aliased, converged: false);
        }

        var (last, _) = Derivatives(rows, beta, penalty);
        return Result(rows, beta, last, Invert(last), converged: false);
    }

    /// <summary>The probability whose logit is given.</summary>
    public static double Probability(double logit) => 1 / (1 + Math.Exp(-logit));

    /// <summary>The logit of a probability in (0, 1).</summary>
    public static double Logit(double probability) => Math.Log(probability / (1 - probability));

    private static double[] Moved(double[] beta, double[] change, double scale)
    {
        var moved = new double[beta.Length];
        for (var j = 0; j < beta.Length; j++) moved[j] = beta[j] + scale * change[j];
        return moved;
    }

    private static double Linear(GroupedTrials row, double[] beta)
    {
        var sum = row.Offset;
        for (var j = 0; j < beta.Length; j++) sum += row.X[j] * beta[j];
        return sum;
    }

    /// <summary>Penalized log-likelihood: y·η − n·ln(1 + e^η), written so that neither end overflows.</summary>
    private static double Objective(IReadOnlyList<GroupedTrials> rows, double[] beta, double[] penalty)
    {
        var sum = 0.0;
        foreach (var row in rows)
        {
            var eta = Linear(row, beta);
            sum += row.Events * eta - row.Trials * (Math.Max(0, eta) + Math.Log(1 + Math.Exp(-Math.Abs(eta))));
        }

        for (var j = 0; j < beta.Length; j++) sum -= penalty[j] * beta[j] * beta[j] / 2;
        return sum;
    }

    private static (double[,] Information, double[] Score) Derivatives(IReadOnlyList<GroupedTrials> rows, double[] beta, double[] penalty)
    {
        var size = beta.Length;
        var information = new double[size, size];
        var score = new double[size];
        foreach (var row in rows)
        {
            var p = Probability(Linear(row, beta));
            var (residual, weight) = (row.Events - row.Trials * p, row.Trials * p * (1 - p));
            for (var j = 0; j < size; j++)
            {
                if (row.X[j] == 0) continue;
                score[j] += row.X[j] * residual;
                for (var k = 0; k < size; k++) information[j, k] += weight * row.X[j] * row.X[k];
            }
        }

        for (var j = 0; j < size; j++)
        {
            score[j] -= penalty[j] * beta[j];
            information[j, j] += penalty[j];
        }

        return (information, score);
    }

    /// <summary>Inverts in place by the sweep operator, leaving out a coefficient that those before it already determine.</summary>
    private static bool[] Invert(double[,] matrix)
    {
        var size = matrix.GetLength(0);
        var aliased = new bool[size];
        var diagonal = new double[size];
        for (var j = 0; j < size; j++) diagonal[j] = matrix[j, j];
        for (var k = 0; k < size; k++)
        {
            var pivot = matrix[k, k];
            aliased[k] = pivot <= 1e-10 * diagonal[k] || pivot <= 1e-300;
            if (aliased[k]) continue;
            for (var i = 0; i < size; i++)
            {
                if (i == k) continue;
                var factor = matrix[i, k] / pivot;
                for (var j = 0; j < size; j++)
                    if (j != k) matrix[i, j] -= factor * matrix[k, j];
                matrix[i, k] = -factor;
            }

            for (var j = 0; j < size; j++)
                if (j != k) matrix[k, j] /= pivot;
            matrix[k, k] = 1 / pivot;
        }

        for (var i = 0; i < size; i++)
            for (var j = 0; j < size; j++)
                if (aliased[i] || aliased[j]) matrix[i, j] = 0;
        return aliased;
    }

    private static LogisticFit Result(
        IReadOnlyList<GroupedTrials> rows, double[] beta, double[,] inverse, bool[] aliased, bool converged)
    {
        var deviance = 0.0;
        foreach (var row in rows)
        {
            var p = Probability(Linear(row, beta));
            if (row.Events > 0) deviance += 2 * row.Events * Math.Log(row.Events / (row.Trials * p));
            var not = row.Trials - row.Events;
            if (not > 0) deviance += 2 * not * Math.Log(not / (row.Trials * (1 - p)));
        }

        return new(beta, [.. beta.Select((_, j) => aliased[j] ? double.PositiveInfinity : Math.Sqrt(inverse[j, j]))], deviance, converged);
    }
}
