using Npgsql;
using Registry.Infants;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake;

/// <summary>
/// A coordinator's decisions about one held row: this infant, a new infant, not to be used, or try again; and their undo.
/// Nothing is deleted: an undo closes what the row added and restates what it had replaced, from that moment on.
/// </summary>
public sealed class ResolveHeldRow(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, RetryHeldRows retry)
{
    private const string Gone = "The row is no longer held: somebody settled it, or it settled itself.";

    private static readonly string Select =
        """
        select h.submission_id, h.row_number, h.site_id, s.received_at, r.content::text, r.line
          from held_rows h
          join submissions s on s.id = h.submission_id
          join submission_rows r on r.submission_id = h.submission_id and r.row_number = h.row_number
         where h.submission_id = $1 and h.row_number = $2 and h.resolution is null for update of h
        """;

    /// <summary>Applies the row to the chosen infant, or with null makes a new one of a birth row.</summary>
    /// <returns>Why it could not be done, in words; null when it was.</returns>
    public Task<string?> ApplyAsync(SubmissionId id, int row, InfantId? infant, Guid by, CancellationToken ct) =>
        SettleAsync(id, row, new RowDecision(infant?.Value), by, ct);

    /// <summary>Asks the matching rule again.</summary>
    public Task<string?> RetryAsync(SubmissionId id, int row, Guid by, CancellationToken ct) => SettleAsync(id, row, null, by, ct);

    /// <summary>The row is not to be used.</summary>
    public async Task<string?> DiscardAsync(SubmissionId id, int row, Guid by, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        return await InTransaction.RunAsync(connection, async token =>
        {
            if (await FindAsync(connection, id, row, token) is not { } held) return Gone;
            await SettleHeldRows.WriteAsync(
                connection, [held], [new(RowOutcome.Rejected, null, null, new Problem((string?)null, "discarded by a coordinator"))],
                HeldResolution.Discarded, clock.Now, by, token);
            return null;
        }, ct);
    }

    private async Task<string?> SettleAsync(SubmissionId id, int row, RowDecision? decision, Guid by, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        var known = new NewlyKnown();
        string? problem = null;
        try
        {
            await InTransaction.RunAsync(connection, async token =>
            {
                known = new NewlyKnown();
                if (await FindAsync(connection, id, row, token) is not { } held) throw new CannotSettleException(Gone);
                var toApply = held.ToApply(clock, await KnownSites.ReadAsync(connection, token), clock.Now, decision);
                if (decision is { InfantId: null } && toApply.Row is not { Kind: RowKind.Birth, Action: not RowAction.Retract }) throw new CannotSettleException("Only a birth can make a new infant.");
                var today = clock.Today;
                var applied = await ApplyRows.RunAsync(connection, [toApply], await policies.InForceAsync(today, token), today, token);
                var result = applied.Rows[0];
                if (decision is not null && result.Outcome == RowOutcome.Rejected)
                    throw new CannotSettleException($"Not possible: {result.Problem?.Field} {result.Problem?.Reason}.");
                if (decision is not null && result.Outcome == RowOutcome.Held)
                    throw new CannotSettleException(result.Hold == HoldReason.NoSuchInfant ? "There is no such infant." : $"Not possible. {IntakeWords.Of(result.Hold!.Value)}.");
                if (decision is { InfantId: { } chosen } && toApply.Row.Fact is ReportedBirth birth && await HasEarlierFactAsync(connection, chosen, birth.BornOn, token))
                    throw new CannotSettleException("Not possible: something is recorded for that infant before the birth date the row states.");
                await SettleHeldRows.WriteAsync(
                    connection, [held], applied.Rows, decision is null ? HeldResolution.Applied : HeldResolution.Matched, clock.Now, by, token);
                if (result.Outcome == RowOutcome.Held) problem = "Still held.";
                known = applied.Known;
                return true;
            }, ct);
        }
        catch (CannotSettleException e)
        {
            return e.Message;
        }

        await retry.ForNewlyKnownAsync(known, clock.Now, ct);
        return problem;
    }

    /// <summary>Takes back a coordinator's decision: the row is held again.</summary>
    public async Task<string?> UndoAsync(SubmissionId id, int row, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        try
        {
            await InTransaction.RunAsync(connection, async token =>
            {
                var (infant, outcome) = await LockSettledAsync(connection, id, row, token);
                var touched = await TakeBackFacts.RunAsync(connection, id, row, infant, clock.Now, token)
                    ?? throw new CannotSettleException("Other rows rest on it by now (they name the same infant, or replaced what it said). Settle those first.");
                await HoldAgainAsync(connection, id, row, outcome, token);
                if (touched.Count > 0)
                    await RecomputeStatuses.ForInfantsAsync(connection, touched, clock.Today, await policies.InForceAsync(clock.Today, token), token);
                return true;
            }, ct);
            return null;
        }
        catch (CannotSettleException e)
        {
            return e.Message;
        }
    }

    private static async Task<(Guid? Infant, RowOutcome Outcome)> LockSettledAsync(NpgsqlConnection connection, SubmissionId id, int row, CancellationToken ct)
    {
        await using var select = new NpgsqlCommand(
            """
            select r.infant_id, r.outcome from held_rows h
              join submission_rows r on r.submission_id = h.submission_id and r.row_number = h.row_number
             where h.submission_id = $1 and h.row_number = $2 and h.resolution in ('matched', 'discarded') for update of h
            """, connection);
        select.Parameters.AddWithValue(id.Value);
        select.Parameters.AddWithValue(row);
        await using var reader = await select.ExecuteReaderAsync(ct);
        if (!await reader.ReadAsync(ct)) throw new CannotSettleException("There is no decision to take back.");
        return (reader.IsDBNull(0) ? null : reader.GetGuid(0), Codes.Parse<RowOutcome>(reader.GetString(1)));
    }

    private static async Task HoldAgainAsync(NpgsqlConnection connection, SubmissionId id, int row, RowOutcome outcome, CancellationToken ct)
    {
        foreach (var sql in new[]
        {
            "update submission_rows set outcome = 'held', infant_id = null, problems = null where submission_id = $1 and row_number = $2",
            "update held_rows set resolution = null, resolved_at = null, resolved_by = null where submission_id = $1 and row_number = $2",
            $"update submissions set held = held + 1, {Codes.Of(outcome)} = {Codes.Of(outcome)} - 1 where id = $1 and $2 > 0",
        })
        {
            await using var update = new NpgsqlCommand(sql, connection);
            update.Parameters.AddWithValue(id.Value);
            update.Parameters.AddWithValue(row);
            await update.ExecuteNonQueryAsync(ct);
        }
    }

    private static async Task<HeldContent?> FindAsync(NpgsqlConnection connection, SubmissionId id, int row, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(Select, connection);
        command.Parameters.AddWithValue(id.Value);
        command.Parameters.AddWithValue(row);
        return (await SettleHeldRows.ReadAsync(command, ct)).SingleOrDefault();
    }

    private static async Task<bool> HasEarlierFactAsync(NpgsqlConnection connection, Guid infant, DateOnly bornOn, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(EmbeddedSql.Of<ResolveHeldRow>("HasEarlierFact"), connection);
        command.Parameters.AddWithValue(infant);
        command.Parameters.AddWithValue(bornOn);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    /// <summary>Ends the transaction; the message is for the coordinator.</summary>
    private sealed class CannotSettleException(string message) : Exception(message);
}
