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

/// <summary>What became of a row that was decided.</summary>
/// <param name="Refusal">Why it was not; nothing was changed then.</param>
/// <param name="Problems">What is wrong with the row as corrected, by column; nothing was changed then.</param>
/// <param name="Outcome">What became of the row, when it was decided.</param>
/// <param name="Hold">Why it waits, when it does.</param>
public sealed record DecidedRow(
    RowRefusal? Refusal, IReadOnlyList<Problem> Problems, RowOutcome? Outcome = null, HoldReason? Hold = null)
{
    /// <summary>How many other rows waited for it, and no longer do.</summary>
    public int Released { get; init; }
}

/// <summary>
/// A person's decisions about one waiting row: this infant, a new infant, other values, not to be used, or look again. Each is one
/// transaction with the facts it adds and an entry of the row's history, and can be taken back (<see cref="TakeBackDecision"/>).
/// </summary>
public sealed class DecideRow(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, RetryHeldRows retry)
{
    /// <summary>A decision under way: the row is locked until its transaction ends.</summary>
    private sealed record Turn(NpgsqlConnection Connection, LockedRow Row, Decider By, DateTimeOffset At);

    /// <summary>Applies a held row to the chosen infant: what it contradicts gives way.</summary>
    public Task<DecidedRow> MatchAsync(SubmissionId id, int row, InfantId infant, Decider by, CancellationToken ct) =>
        ApplyAsync(id, row, new(infant.Value), RowChangeKind.Matched, false, by, ct);

    /// <summary>Applies a held row to the chosen infant beside what it contradicts: both happened.</summary>
    public Task<DecidedRow> KeepBothAsync(SubmissionId id, int row, InfantId infant, Decider by, CancellationToken ct) =>
        ApplyAsync(id, row, new(infant.Value, Beside: true), RowChangeKind.KeptBoth, false, by, ct);

    /// <summary>Makes a new infant of a held birth.</summary>
    /// <param name="id">Its submission.</param>
    /// <param name="row">Its number.</param>
    /// <param name="knownAlready">The person knows that an infant carries its record number or card, or agrees with it in every detail, and
    /// wants another one; without, that is refused.</param>
    /// <param name="by">Who.</param>
    /// <param name="ct">Cancels.</param>
    public Task<DecidedRow> MakeNewAsync(SubmissionId id, int row, bool knownAlready, Decider by, CancellationToken ct) =>
        ApplyAsync(id, row, new(null), RowChangeKind.MadeNew, knownAlready, by, ct);

    private Task<DecidedRow> ApplyAsync(
        SubmissionId id, int row, RowDecision decision, RowChangeKind kind, bool knownAlready, Decider by, CancellationToken ct) =>
        InTurnAsync(id, row, by, async (turn, token) =>
        {
            if (turn.Row.Outcome != RowOutcome.Held) throw new RefusedException(WhyRefused.CorrectItFirst);
            var settled = await SettleAsync(turn, RewriteRow.AsKept(turn.Row.Content), decision, kind, token);
            if (decision.InfantId is null && !knownAlready
                && await FindKnownChild.ForAsync(turn.Connection, turn.Row.Content, settled.Touched, clock, token) is { } known)
                throw new RefusedException(known);
            return settled;
        }, ct);

    /// <summary>Checks the row again, and asks the matching rule again.</summary>
    /// <returns>Why it waits as before; null when that changed.</returns>
    public async Task<RowRefusal?> AskAgainAsync(SubmissionId id, int row, Decider by, CancellationToken ct) =>
        await InTurnAsync(id, row, by, (turn, token) =>
            SettleAsync(turn, RewriteRow.AsKept(turn.Row.Content), null, RowChangeKind.AskedAgain, token), ct) switch
        {
            { Refusal: { } refusal } => refusal,
            { Problems: [var first, ..] } => new(WhyRefused.StillRejected) { Problem = first },
            { Outcome: null, Hold: { } hold } => new(WhyRefused.StillHeld) { Hold = hold },
            _ => null,
        };

    /// <summary>The row is not to be used.</summary>
    /// <returns>Why it was not done; null when it was.</returns>
    public async Task<RowRefusal?> DiscardAsync(SubmissionId id, int row, Decider by, CancellationToken ct) =>
        (await InTurnAsync(id, row, by, async (turn, token) =>
        {
            await turn.Row.WriteAsync(turn.Connection, new(RowOutcome.Rejected, null), RowChangeKind.Discarded, null, by, turn.At, token);
            return (new DecidedRow(null, [], RowOutcome.Rejected), (IReadOnlyCollection<Guid>)[]);
        }, ct)).Refusal;

    /// <summary>Changes fields of the row and applies it as if it had been sent so; what does not pass the checks changes
    /// nothing.</summary>
    /// <param name="id">Its submission.</param>
    /// <param name="row">Its number.</param>
    /// <param name="change">The fields as they shall be, from the fields as they are; null: there is nothing to change.</param>
    /// <param name="by">Who.</param>
    /// <param name="ct">Cancels.</param>
    /// <param name="confirmed">Of what the reader found (0-based, as stored), where the person says that the row is right as it
    /// stands.</param>
    public Task<DecidedRow> CorrectAsync(
        SubmissionId id, int row, Func<IReadOnlyDictionary<Field, string>, IReadOnlyDictionary<Field, string>?> change, Decider by,
        CancellationToken ct, IReadOnlyCollection<int>? confirmed = null) =>
        InTurnAsync(id, row, by, (turn, token) =>
        {
            var before = RowContent.Fields(turn.Row.Content.Content);
            var after = change(before) ?? throw new RefusedException(WhyRefused.DoesNotStateIt);
            var corrected = RewriteRow.With(turn.Row.Content, after, confirmed);
            if (corrected.Problems(0).Count == 0 && confirmed is not { Count: > 0 }
                && RewriteRow.Same(before, RowContent.Fields(corrected.ToJson(0))))
                throw new RefusedException(WhyRefused.StatesItAlready);
            return SettleAsync(turn, corrected, null, RowChangeKind.Corrected, token);
        }, ct);

    private async Task<DecidedRow> InTurnAsync(
        SubmissionId id, int row, Decider by,
        Func<Turn, CancellationToken, Task<(DecidedRow Done, IReadOnlyCollection<Guid> Touched)>> decide, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        try
        {
            var now = clock.Now;
            var (done, touched) = await InTransaction.RunAsync(connection, async token =>
                await decide(new(connection, await LockedRow.WaitingAsync(connection, id, row, by, token), by, now), token), ct);
            // Rows of a bulk decision wait until all have had their turn: one that settled itself would not be part of the decision, nor of
            // its taking back.
            if (by.Together is null) return done with { Released = await retry.ForTouchedAsync(touched, now, ct) };
            by.Together.UnionWith(touched);
            return done;
        }
        catch (RefusedException e)
        {
            return new(e.Refusal, []);
        }
    }

    /// <summary>Checks the row, applies it, and writes what became of it.</summary>
    private async Task<(DecidedRow Done, IReadOnlyCollection<Guid> Touched)> SettleAsync(
        Turn turn, RowBatch batch, RowDecision? decision, RowChangeKind kind, CancellationToken ct)
    {
        var (content, today) = (turn.Row.Content, clock.Today);
        var check = (await KnownSites.ReadAsync(turn.Connection, ct)).Check(clock, content.ReceivedAt, content.SiteId);
        if (check.Check(batch, 0, out _, out var problems) is not { } row) return (new(null, problems), []);
        if (decision is { InfantId: null } && row is not { Kind: RowKind.Birth, Action: not RowAction.Retract })
            throw new RefusedException(WhyRefused.OnlyBirthsMakeInfants);

        var applied = await ApplyRows.RunAsync(
            turn.Connection, [new(turn.Row.Id, content.SiteId, turn.Row.Row, row, turn.At, decision)],
            await policies.InForceAsync(today, ct), today, ct);
        var result = applied.Rows[0];
        if (decision is not null) await RefuseUnlessAppliedAsync(turn.Connection, row, decision, result, ct);
        if (result.Outcome == RowOutcome.Rejected)
            return (new(null, [result.Problem ?? new((string?)null, "cannot be applied")]), []);
        if (kind == RowChangeKind.AskedAgain && result.Outcome == RowOutcome.Held && turn.Row.Outcome == RowOutcome.Held)
        {
            await SettleHeldRows.WriteAsync(turn.Connection, [content], applied.Rows, turn.At, ct);
            return (new(null, [], null, result.Hold), applied.Touched);
        }

        await turn.Row.WriteAsync(turn.Connection, result, kind, (batch.ToJson(0), row), turn.By, turn.At, ct);
        return (new(null, [], result.Outcome, result.Hold), applied.Touched);
    }

    /// <summary>Whoever says whom a row is about means that it be applied, or nothing be changed.</summary>
    private static async Task RefuseUnlessAppliedAsync(
        NpgsqlConnection connection, ReportedRow row, RowDecision decision, AppliedRow result, CancellationToken ct)
    {
        if (result.Outcome == RowOutcome.Rejected)
            throw new RefusedException(new RowRefusal(WhyRefused.CannotApply) { Problem = result.Problem });
        if (result is { Outcome: RowOutcome.Held, Hold: HoldReason.NoSuchInfant }) throw new RefusedException(WhyRefused.NoSuchInfant);
        if (result.Outcome == RowOutcome.Held)
            throw new RefusedException(new RowRefusal(WhyRefused.WouldStillWait) { Hold = result.Hold });
        if (decision.InfantId is { } chosen && row.Fact is ReportedBirth birth
            && await FindEarlierFact.ExistsAsync(connection, chosen, birth.BornOn, ct))
            throw new RefusedException(WhyRefused.HappenedBeforeBirth);
    }
}
