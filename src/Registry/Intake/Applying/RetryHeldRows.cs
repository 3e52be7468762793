using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>
/// Asks again about rows that wait, whatever they wait for, once something of an infant they might be about has changed: what it is known
/// by, its birth, or what is recorded of it. So the order in which rows come does not matter. Each round is one transaction; a row locked
/// by another worker is that worker's to settle. What is applied may make further waiting rows match, so rounds go on until nothing more
/// does.
/// </summary>
public sealed class RetryHeldRows(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    private const int RoundSize = 1_000;
    private static readonly string TouchedSql = EmbeddedSql.Of<RetryHeldRows>("FindTouchedHeldRows");
    private static readonly string MatchableSql = EmbeddedSql.Of<RetryHeldRows>("FindMatchableHeldRows")
        .Replace("{known}", SiteLinks.Known("i.infant_id", "h.site_id"), StringComparison.Ordinal)
        .Replace("{link}", SiteLinks.Of("r.infant_id", "h.site_id", "$6"), StringComparison.Ordinal);

    /// <summary>Every waiting row was looked at since the program started.</summary>
    private bool _lookedAtAll;

    /// <param name="Last">The last row of the round; null when there was none.</param>
    /// <param name="IsFull">There may be more.</param>
    /// <param name="Settled">How many rows no longer wait.</param>
    /// <param name="Touched">The infants it touched.</param>
    private sealed record Round(HeldContent? Last, bool IsFull, int Settled, IReadOnlyCollection<Guid> Touched);

    /// <summary>Rows that wait for what was just committed.</summary>
    /// <param name="infants">Infants of whom something was recorded, closed or attached.</param>
    /// <param name="at">When we knew: recorded with what is applied, unless the row itself came later.</param>
    /// <param name="ct">Cancels between rounds.</param>
    /// <returns>How many rows no longer wait.</returns>
    public async Task<int> ForTouchedAsync(IReadOnlyCollection<Guid> infants, DateTimeOffset at, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        var all = 0;
        while (infants.Count > 0 && await AnyWaitsAsync(connection, ct))
        {
            var touched = infants.ToArray();
            // First what was applied on the strength of details that mean somebody else as well by now: what waits is then asked as well.
            var reopened = await InTransaction.RunAsync(connection, async token => await ReopenLeaningRows.RunAsync(
                connection, touched, clock, await policies.InForceAsync(clock.Today, token), at, token), ct);
            Guid[] asked = [.. touched.Union(reopened)];
            (var settled, var more) = await InRoundsAsync(connection, TouchedSql, which => which.AddWithValue(asked), at, ct);
            infants = [.. more.Union(reopened)];
            all += settled;
        }

        return all;
    }

    /// <summary>The waiting rows of one submission: something may have been committed while they were being decided.</summary>
    public Task<int> ForSubmissionAsync(SubmissionId id, DateTimeOffset at, CancellationToken ct) =>
        MatchableAsync(id.Value, everyReason: true, at, ct);

    /// <summary>The backstop behind the other two: every waiting row that a stop of the program may have left behind; the first time
    /// since it started every waiting row.</summary>
    /// <returns>How many rows no longer wait.</returns>
    public async Task<int> ForAllAsync(CancellationToken ct)
    {
        var settled = await MatchableAsync(null, everyReason: !_lookedAtAll, clock.Now, ct);
        _lookedAtAll = true;
        return settled;
    }

    private async Task<int> MatchableAsync(Guid? submission, bool everyReason, DateTimeOffset at, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        var (settled, touched) = await InRoundsAsync(connection, MatchableSql, which =>
        {
            which.AddNullable(submission, NpgsqlDbType.Uuid);
            which.AddWithValue(everyReason);
            which.AddWithValue(clock.Today);
        }, at, ct);
        return settled + await ForTouchedAsync(touched, at, ct);
    }

    /// <summary>Goes through the rows a query finds, a round at a time.</summary>
    /// <param name="connection">Each round is a transaction of it.</param>
    /// <param name="sql">Finds them by submission and row, after the first two parameters, at most the third.</param>
    /// <param name="bind">Adds the parameters from the fourth on.</param>
    /// <param name="at">When we knew.</param>
    /// <param name="ct">Cancels between rounds.</param>
    private async Task<(int Settled, IReadOnlyCollection<Guid> Touched)> InRoundsAsync(
        NpgsqlConnection connection, string sql, Action<NpgsqlParameterCollection> bind, DateTimeOffset at, CancellationToken ct)
    {
        var (settled, touched) = (0, new HashSet<Guid>());
        HeldContent? last = null;
        while (true)
        {
            var round = await InTransaction.RunAsync(connection, async token =>
            {
                await using var select = new NpgsqlCommand(sql, connection);
                select.Parameters.AddWithValue(last?.SubmissionId.Value ?? Guid.Empty);
                select.Parameters.AddWithValue(last?.RowNumber ?? 0);
                select.Parameters.AddWithValue(RoundSize);
                bind(select.Parameters);
                return await RoundAsync(connection, select, at, token);
            }, ct);
            settled += round.Settled;
            touched.UnionWith(round.Touched);
            if (!round.IsFull) return (settled, touched);
            last = round.Last;
        }
    }

    private async Task<Round> RoundAsync(NpgsqlConnection connection, NpgsqlCommand select, DateTimeOffset at, CancellationToken ct)
    {
        await ApplyRows.LookUpByIndexAsync(connection, ct);
        var held = await HeldContent.ReadAllAsync(select, ct);
        if (held.Count == 0) return new(null, false, 0, []);
        var sites = await KnownSites.ReadAsync(connection, ct);
        // A row that passes its checks no more is rejected with the reason, and waits for a person; the others go on.
        var (wrong, whatIsWrong) = (new List<HeldContent>(), new List<IReadOnlyList<Problem>>());
        var (passed, rows) = (new List<HeldContent>(), new List<RowToApply>());
        foreach (var one in held)
        {
            if (one.ToApply(clock, sites, one.ReceivedAt > at ? one.ReceivedAt : at, out var problems) is { } row)
            {
                passed.Add(one);
                rows.Add(row);
            }
            else
            {
                wrong.Add(one);
                whatIsWrong.Add(problems);
            }
        }

        var today = clock.Today;
        var applied = await ApplyRows.RunAsync(connection, rows, await policies.InForceAsync(today, ct), today, ct);
        await SettleHeldRows.WriteAsync(connection, passed, applied.Rows, at, ct);
        if (wrong.Count > 0)
        {
            var rejected = wrong.ConvertAll(_ => new AppliedRow(RowOutcome.Rejected, null));
            await SettleHeldRows.WriteAsync(connection, wrong, rejected, whatIsWrong, at, ct);
        }

        var settled = wrong.Count + applied.Rows.Count(r => r.Outcome != RowOutcome.Held);
        return new(held[^1], held.Count == RoundSize, settled, applied.Touched);
    }

    private static async Task<bool> AnyWaitsAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(EmbeddedSql.Of<RetryHeldRows>("AnyWaits"), connection);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }
}
