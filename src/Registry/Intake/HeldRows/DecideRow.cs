using Npgsql;
using Registry.Facts;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.HeldRows;

/// <summary>What became of a correction.</summary>
/// <param name="Problem">Why it could not be done, in words; null when it was.</param>
/// <param name="Fields">What is wrong with the row as corrected, by column; nothing was changed then.</param>
/// <param name="Outcome">What became of the row, when it was done.</param>
/// <param name="Hold">Why it waits, when it does.</param>
public sealed record Correction(string? Problem, IReadOnlyList<Problem> Fields, RowOutcome? Outcome = null, HoldReason? Hold = null);

/// <summary>
/// A person's decisions about one held or rejected row: this infant, a new infant, other values, not to be used, or look again. Each is one
/// transaction with the facts it adds and an entry of the row's history, and can be taken back (<see cref="TakeBackDecision"/>).
/// </summary>
public sealed class DecideRow(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, RetryHeldRows retry)
{
    /// <summary>Applies a held row to the chosen infant, or with null makes a new one of a birth row.</summary>
    /// <returns>Why it could not be done, in words; null when it was.</returns>
    public async Task<string?> ApplyAsync(SubmissionId id, int row, InfantId? infant, Decider by, CancellationToken ct) =>
        (await InTurnAsync(id, row, by, async (connection, locked, now, token) =>
        {
            if (locked.Outcome != RowOutcome.Held) throw new CannotDecideException("A rejected row is corrected first.");
            return await SettleAsync(connection, locked, Read(locked.Content), new RowDecision(infant?.Value),
                infant is null ? RowChangeKind.MadeNew : RowChangeKind.Matched, by, now, token);
        }, ct)).Problem;

    /// <summary>Checks the row again, and asks the matching rule again.</summary>
    /// <returns>Why it waits as before; null when that changed.</returns>
    public async Task<string?> AskAgainAsync(SubmissionId id, int row, Decider by, CancellationToken ct) =>
        (await InTurnAsync(id, row, by, (connection, locked, now, token) =>
            SettleAsync(connection, locked, Read(locked.Content), null, RowChangeKind.AskedAgain, by, now, token), ct)) switch
        {
            { Problem: { } problem } => problem,
            { Fields: [var first, ..] } => $"Still rejected: {first.Field} {first.Reason}.",
            { Outcome: null, Hold: { } hold } => $"Still held. {IntakeWords.Of(hold)}.",
            _ => null,
        };

    /// <summary>The row is not to be used.</summary>
    public async Task<string?> DiscardAsync(SubmissionId id, int row, Decider by, CancellationToken ct) =>
        (await InTurnAsync(id, row, by, async (connection, locked, now, token) =>
        {
            await locked.WriteAsync(connection, new(RowOutcome.Rejected, null), RowChangeKind.Discarded, null, by, now, token);
            return (new Correction(null, [], RowOutcome.Rejected), new NewlyKnown());
        }, ct)).Problem;

    /// <summary>Changes fields of the row and applies it as if it had been sent so; whatever does not pass the checks changes
    /// nothing.</summary>
    /// <param name="id">Its submission.</param>
    /// <param name="row">Its number.</param>
    /// <param name="change">The fields as they shall be, from the fields as they are; null: there is nothing to change.</param>
    /// <param name="by">Who.</param>
    /// <param name="ct">Cancels.</param>
    /// <param name="stands">Of what the reader found (0-based, as stored), where the person says that the row is right as it
    /// stands.</param>
    public Task<Correction> CorrectAsync(
        SubmissionId id, int row, Func<IReadOnlyDictionary<Field, string>, IReadOnlyDictionary<Field, string>?> change, Decider by,
        CancellationToken ct,
        IReadOnlyCollection<int>? stands = null) =>
        InTurnAsync(id, row, by, async (connection, locked, now, token) =>
        {
            var before = RowContent.Fields(locked.Content.Content);
            if (change(before) is not { } after) throw new CannotDecideException("The row does not state what was to be changed.");
            if (Write(locked.Content, after, stands) is var batch && batch.Problems(0).Count == 0 && stands is not { Count: > 0 }
                && Same(before, RowContent.Fields(batch.ToJson(0))))
                throw new CannotDecideException("Nothing was changed: the row states this already.");
            return await SettleAsync(connection, locked, batch, null, RowChangeKind.Corrected, by, now, token);
        }, ct);

    /// <summary>What is wrong with a row if it stated these fields; empty when it passes the checks. Reads nothing.</summary>
    internal static IReadOnlyList<Problem> Check(
        HeldContent content, IReadOnlyDictionary<Field, string> fields, ProgramClock clock, KnownSites sites)
    {
        sites.Check(clock.DateOf(content.ReceivedAt), content.SiteId).Check(Write(content, fields), 0, out _, out var problems);
        return problems;
    }

    private async Task<Correction> InTurnAsync(
        SubmissionId id, int row, Decider by,
        Func<NpgsqlConnection, LockedRow, DateTimeOffset, CancellationToken, Task<(Correction Done, NewlyKnown Known)>> decide,
        CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        try
        {
            var now = clock.Now;
            var (done, known) = await InTransaction.RunAsync(
                connection, async token =>
                    await decide(connection, await LockedRow.WaitingAsync(connection, id, row, by, token), now, token), ct);
            // Rows decided together wait until all have had their turn: one that settled itself would not be part of the decision, nor of
            // its undo.
            if (by.BulkId is null) await retry.ForNewlyKnownAsync(known, now, ct);
            return done;
        }
        catch (CannotDecideException e)
        {
            return new(e.Message, []);
        }
    }

    private async Task<(Correction Done, NewlyKnown Known)> SettleAsync(
        NpgsqlConnection connection, LockedRow locked, RowBatch batch, RowDecision? decision, RowChangeKind kind, Decider by,
        DateTimeOffset now,
        CancellationToken ct)
    {
        var check = (await KnownSites.ReadAsync(connection, ct)).Check(clock.DateOf(locked.Content.ReceivedAt), locked.Content.SiteId);
        if (check.Check(batch, 0, out _, out var problems) is not { } row) return (new(null, problems), new());
        if (decision is { InfantId: null } && row is not { Kind: RowKind.Birth, Action: not RowAction.Retract })
            throw new CannotDecideException("Only a birth can make a new infant.");

        var today = clock.Today;
        var applied = await ApplyRows.RunAsync(
            connection, [new(locked.Id, locked.Content.SiteId, locked.Row, row, now, decision)], await policies.InForceAsync(today, ct),
            today, ct);
        var result = applied.Rows[0];
        if (result.Outcome == RowOutcome.Rejected && decision is not null)
            throw new CannotDecideException($"Not possible: {result.Problem?.Field} {result.Problem?.Reason}.");
        if (result.Outcome == RowOutcome.Rejected) return (new(null, [result.Problem ?? new((string?)null, "cannot be applied")]), new());
        if (result.Outcome == RowOutcome.Held && decision is not null)
            throw new CannotDecideException(result.Hold == HoldReason.NoSuchInfant
                ? "There is no such infant." : $"Not possible. {IntakeWords.Of(result.Hold!.Value)}.");
        if (decision is { InfantId: { } chosen } && row.Fact is ReportedBirth birth
            && await FindEarlierFact.ExistsAsync(connection, chosen, birth.BornOn, ct))
            throw new CannotDecideException("Not possible: something is recorded for that infant before the birth date the row states.");

        if (kind == RowChangeKind.AskedAgain && result.Outcome == RowOutcome.Held && locked.Outcome == RowOutcome.Held)
        {
            await SettleHeldRows.WriteAsync(connection, [locked.Content], applied.Rows, now, ct);
            return (new(null, [], null, result.Hold), applied.Known);
        }

        await locked.WriteAsync(connection, result, kind, (batch.ToJson(0), row), by, now, ct);
        return (new(null, [], result.Outcome, result.Hold), applied.Known);
    }

    private static RowBatch Read(HeldContent content) => Write(content, RowContent.Fields(content.Content));

    /// <summary>The row as it shall be. What the reader found stays a problem until the person sets its column, or says that the row is
    /// right as it stands: the fields as kept do not show it.</summary>
    private static RowBatch Write(HeldContent content, IReadOnlyDictionary<Field, string> fields, IReadOnlyCollection<int>? stands = null)
    {
        var batch = new RowBatch(1);
        batch.Add(content.RowNumber, content.Line);
        foreach (var (field, value) in fields) batch.Set(field, value);
        if (content.FoundByReader.Count == 0) return batch;
        foreach (var (i, problem) in ProblemsJson.Unanswered(content.FoundByReader, RowContent.Fields(content.Content), fields))
            if (stands?.Contains(i) != true) batch.AddProblem(problem);
        return batch;
    }

    private static bool Same(IReadOnlyDictionary<Field, string> one, IReadOnlyDictionary<Field, string> other) =>
        one.Count == other.Count && one.All(f => other.GetValueOrDefault(f.Key) == f.Value);
}
