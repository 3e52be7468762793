using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>Nightly: every site, instrument, probe and screener beside the others of its kind over the last year, so that a page reads one
/// line of each and computes nothing.</summary>
/// <remarks>Within <see cref="ComputeSiteRates"/>, from the cells it has read; a second run on a day changes nothing.</remarks>
public sealed class KeepComparisons(NpgsqlDataSource source, ProgramClock clock)
{
    private const string Copy =
        """
        copy compared_units (site_id, kind, name, measure, as_of, first_day, policy_version, model_version, model_from, model_through,
          trials, observed, expected, standardized, too_many, adjusted_p, multiplicative, additive, shrunken, shrunken_least,
          shrunken_most, far_above, rank_first, rank_last, units, all_trials, all_observed, phi, tau_squared) from stdin (format binary)
        """;

    /// <param name="plan">The case mix.</param>
    /// <param name="watched">Cells of the last year, earlier ones too.</param>
    /// <param name="sites">By code.</param>
    /// <param name="policy">In force.</param>
    /// <param name="ct">Cancels.</param>
    public async Task RunAsync(
        WatchPlan plan, IReadOnlyList<QualityCell> watched, IReadOnlyDictionary<string, SiteId> sites, Policy policy, CancellationToken ct)
    {
        var (from, today) = (clock.Today.AddYears(-1).AddDays(1), clock.Today);
        // It computes while others wait for the database.
        var kinds = await Task.Run(
            () => CompareUnits.Of(watched.Where(c => c.Day >= from && c.Day <= today), plan.Models.Values, policy), ct);
        List<ComparedUnit> units = [.. kinds.SelectMany(k => k.Units.Select(u =>
            ComparedUnit.Of(k, u, sites[u.Unit.Site], from, today, policy.Version)))];
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(ct);
        await using (var delete = new NpgsqlCommand("delete from compared_units", connection)) await delete.ExecuteNonQueryAsync(ct);
        await CopyRows.RunAsync(connection, Copy, units, Write, ct);
        await transaction.CommitAsync(ct);
    }

    private static void Write(NpgsqlBinaryImporter w, ComparedUnit u)
    {
        w.Write(u.SiteId.Value, NpgsqlDbType.Uuid);
        w.Write(Codes.Of(u.Kind), NpgsqlDbType.Text);
        w.Write(u.Name, NpgsqlDbType.Text);
        w.Write(Codes.Of(u.Measure), NpgsqlDbType.Text);
        w.Write(u.AsOf, NpgsqlDbType.Date);
        w.Write(u.FirstDay, NpgsqlDbType.Date);
        w.Write(u.PolicyVersion, NpgsqlDbType.Text);
        w.Write(u.ModelVersion, NpgsqlDbType.Integer);
        w.Write(u.ModelFrom, NpgsqlDbType.Date);
        w.Write(u.ModelThrough, NpgsqlDbType.Date);
        w.Write(u.Trials, NpgsqlDbType.Integer);
        w.Write(u.Observed, NpgsqlDbType.Integer);
        foreach (var figure in (double?[])[u.Expected, u.Standardized, u.TooMany, u.AdjustedP, u.Multiplicative, u.Additive, u.Shrunken,
            u.ShrunkenLeast, u.ShrunkenMost, u.FarAbove]) OrNull(figure, NpgsqlDbType.Double);
        OrNull(u.RankFirst, NpgsqlDbType.Integer);
        OrNull(u.RankLast, NpgsqlDbType.Integer);
        w.Write(u.Units, NpgsqlDbType.Integer);
        w.Write(u.AllTrials, NpgsqlDbType.Integer);
        w.Write(u.AllObserved, NpgsqlDbType.Integer);
        w.Write(u.Phi, NpgsqlDbType.Double);
        w.Write(u.TauSquared, NpgsqlDbType.Double);

        void OrNull<T>(T? value, NpgsqlDbType type) where T : struct
        {
            if (value is { } known) w.Write(known, type);
            else w.WriteNull();
        }
    }
}
