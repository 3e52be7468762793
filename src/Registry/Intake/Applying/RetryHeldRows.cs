using Npgsql;
using NpgsqlTypes;
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
    private static readonly string MatchableSql = EmbeddedSql.Of<RetryHeldRows>("FindMatchableHeldRows");

    /// <summary>Rows that wait for what was just committed.</summary>
    /// <param name="known">Identifiers attached, birth dates of infants made, and infants a fact was added to or retracted from.</param>
    /// <param name="at">When we knew: recorded with what is applied, unless the row itself came later.</param>
    /// <param name="ct">Cancels between rounds.</param>
    public async Task ForNewlyKnownAsync(NewlyKnown known, DateTimeOffset at, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        while (!known.IsEmpty && await AnyWaitsAsync(connection, ct))
        {
            var next = new NewlyKnown();
            var after = (Submission: Guid.Empty, Row: 0);
            while (true)
            {
                var (found, settled) = await InTransaction.RunAsync(connection, async token =>
                {
                    await using var command = new NpgsqlCommand(TouchedSql, connection);
                    command.Parameters.AddWithValue(known.RecordNumbers.Select(r => r.Site).ToArray());
                    command.Parameters.AddWithValue(known.RecordNumbers.Select(r => r.Number).ToArray());
                    command.Parameters.AddWithValue(known.CardIds.ToArray());
                    command.Parameters.AddWithValue(known.BirthDates.ToArray());
                    AddPage(command, after);
                    command.Parameters.AddWithValue(known.Infants.ToArray());
                    return await RoundAsync(connection, command, at, token);
                }, ct);
                next.Add(settled);
                if (found.Count < RoundSize) break;
                after = (found[^1].SubmissionId.Value, found[^1].RowNumber);
            }

            known = next;
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
        var total = 0;
        var after = (Submission: Guid.Empty, Row: 0);
        var known = new NewlyKnown();
        while (true)
        {
            var (found, settled) = await InTransaction.RunAsync(connection, async token =>
            {
                await using var command = new NpgsqlCommand(MatchableSql, connection);
                command.Parameters.AddNullable(submission, NpgsqlDbType.Uuid);
                AddPage(command, after);
                return await RoundAsync(connection, command, at, token);
            }, ct);
            known.Add(settled);
            total += found.Count(f => f.Settled);
            if (found.Count < RoundSize) break;
            after = (found[^1].SubmissionId.Value, found[^1].RowNumber);
        }

        await ForNewlyKnownAsync(known, at, ct);
        return total;
    }

    private async Task<(IReadOnlyList<HeldContent> Found, NewlyKnown Known)> RoundAsync(
        NpgsqlConnection connection, NpgsqlCommand select, DateTimeOffset at, CancellationToken ct)
    {
        await ApplyRows.LookUpByIndexAsync(connection, ct);
        var held = await HeldContent.ReadAllAsync(select, ct);
        if (held.Count == 0) return (held, new());
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
        for (var i = 0; i < passed.Count; i++) passed[i].Settled = applied.Rows[i].Outcome != RowOutcome.Held;
        await SettleHeldRows.WriteAsync(connection, passed, applied.Rows, clock.Now, ct);
        if (wrong.Count > 0)
        {
            foreach (var one in wrong) one.Settled = true;
            var rejected = wrong.ConvertAll(_ => new AppliedRow(RowOutcome.Rejected, null));
            await SettleHeldRows.WriteAsync(connection, wrong, rejected, whatIsWrong, clock.Now, ct);
        }

        return (held, applied.Known);
    }

    private static void AddPage(NpgsqlCommand command, (Guid Submission, int Row) after)
    {
        command.Parameters.AddWithValue(after.Submission);
        command.Parameters.AddWithValue(after.Row);
        command.Parameters.AddWithValue(RoundSize);
    }

    private static async Task<bool> AnyWaitsAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(
            """
            select exists (select from held_rows where resolution is null and reason = 'no_such_infant')
                or exists (select from held_rows where resolution is null and reason in ('nothing_recorded', 'others_rest_on_it'))
            """, connection);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }
}
