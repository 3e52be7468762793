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
/// Applies rows that waited for their infant, or for the fact they retract, once it is known. Each round is one transaction; a row locked
/// by another worker is that worker's to settle. What is applied may make further waiting rows match, so rounds go on until nothing more
/// does.
/// </summary>
public sealed class RetryHeldRows(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    private const int RoundSize = 1_000;
    private static readonly string TouchedSql = EmbeddedSql.Of<RetryHeldRows>("FindTouchedHeldRows");
    private static readonly string MatchableSql = EmbeddedSql.Of<RetryHeldRows>("FindMatchableHeldRows")
        .Replace("{known}", SiteLinks.Known("i.infant_id", "h.site_id"), StringComparison.Ordinal)
        .Replace("{link}", SiteLinks.Of("r.infant_id", "h.site_id", "$5"), StringComparison.Ordinal);

    /// <param name="Last">The last row of the round; null when there was none.</param>
    /// <param name="IsFull">There may be more.</param>
    /// <param name="Settled">How many rows no longer wait.</param>
    /// <param name="Known">What became known by them.</param>
    private sealed record Round(HeldContent? Last, bool IsFull, int Settled, NewlyKnown Known);

    /// <summary>Rows that wait for what was just committed.</summary>
    /// <param name="known">Identifiers attached, birth dates of infants made, and infants a fact was added to or retracted from.</param>
    /// <param name="at">When we knew: recorded with what is applied, unless the row itself came later.</param>
    /// <param name="ct">Cancels between rounds.</param>
    public async Task ForNewlyKnownAsync(NewlyKnown known, DateTimeOffset at, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        while (!known.IsEmpty && await AnyWaitsAsync(connection, ct))
        {
            var keys = known;
            (_, known) = await InRoundsAsync(connection, TouchedSql, which =>
            {
                which.AddWithValue(keys.RecordNumbers.Select(r => r.Site).ToArray());
                which.AddWithValue(keys.RecordNumbers.Select(r => r.Number).ToArray());
                which.AddWithValue(keys.CardIds.ToArray());
                which.AddWithValue(keys.BirthDates.ToArray());
                which.AddWithValue(keys.Infants.ToArray());
            }, at, ct);
        }
    }

    /// <summary>The waiting rows of one submission.</summary>
    public Task<int> ForSubmissionAsync(SubmissionId id, DateTimeOffset at, CancellationToken ct) => MatchableAsync(id.Value, at, ct);

    /// <summary>Every waiting row that could have found its infant: the backstop behind the other two.</summary>
    /// <returns>How many rows no longer wait.</returns>
    public Task<int> ForAllAsync(CancellationToken ct) => MatchableAsync(null, clock.Now, ct);

    private async Task<int> MatchableAsync(Guid? submission, DateTimeOffset at, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        var (settled, known) = await InRoundsAsync(
            connection, MatchableSql, which =>
            {
                which.AddNullable(submission, NpgsqlDbType.Uuid);
                which.AddWithValue(clock.Today);
            }, at, ct);
        await ForNewlyKnownAsync(known, at, ct);
        return settled;
    }

    /// <summary>Goes through the rows a query finds, a round at a time.</summary>
    /// <param name="connection">Each round is a transaction of it.</param>
    /// <param name="sql">Finds them by submission and row, after the first two parameters, at most the third.</param>
    /// <param name="bind">Adds the parameters from the fourth on.</param>
    /// <param name="at">When we knew.</param>
    /// <param name="ct">Cancels between rounds.</param>
    private async Task<(int Settled, NewlyKnown Known)> InRoundsAsync(
        NpgsqlConnection connection, string sql, Action<NpgsqlParameterCollection> bind, DateTimeOffset at, CancellationToken ct)
    {
        var (settled, known) = (0, new NewlyKnown());
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
            known.Add(round.Known);
            if (!round.IsFull) return (settled, known);
            last = round.Last;
        }
    }

    private async Task<Round> RoundAsync(NpgsqlConnection connection, NpgsqlCommand select, DateTimeOffset at, CancellationToken ct)
    {
        await ApplyRows.LookUpByIndexAsync(connection, ct);
        var held = await HeldContent.ReadAllAsync(select, ct);
        if (held.Count == 0) return new(null, false, 0, new());
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
        await SettleHeldRows.WriteAsync(connection, passed, applied.Rows, clock.Now, ct);
        if (wrong.Count > 0)
        {
            var rejected = wrong.ConvertAll(_ => new AppliedRow(RowOutcome.Rejected, null));
            await SettleHeldRows.WriteAsync(connection, wrong, rejected, whatIsWrong, clock.Now, ct);
        }

        var settled = wrong.Count + applied.Rows.Count(r => r.Outcome != RowOutcome.Held);
        return new(held[^1], held.Count == RoundSize, settled, applied.Known);
    }

    private static async Task<bool> AnyWaitsAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(EmbeddedSql.Of<RetryHeldRows>("AnyWaits"), connection);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }
}
