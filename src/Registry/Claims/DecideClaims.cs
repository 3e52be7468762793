using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Intake.Applying;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Claims;

/// <summary>Which claim: whose, about whom.</summary>
public readonly record struct ClaimKey(SiteId SiteId, InfantId InfantId);

/// <summary>Why a claim was not decided.</summary>
public enum WhyNotDecided
{
    /// <summary>It waits no more, or is not the viewer's to decide.</summary>
    NothingHeld,

    /// <summary>Nothing was said of it that could be taken back.</summary>
    NothingToTakeBack,

    /// <summary>The site has reported more since: that would stay.</summary>
    ReportedSince,
}

/// <summary>
/// Says of a claim that the site cares for the infant, or that it does not, or takes that back. Each word is one transaction and stays;
/// confirming applies what waits by the rules of any row, and recomputes the infant's status with it; refusing leaves the rows where they
/// are, marked. A coordinator decides, or the manager of the site where the infant was born.
/// </summary>
public sealed class DecideClaims(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, RetryHeldRows retry, Viewer viewer)
{
    private static readonly string WaitsSql = EmbeddedSql.Of<DecideClaims>("LockClaim");

    /// <summary>Rows that had waited: what the site reported since is told by <see cref="StillKnownSql"/>.</summary>
    private static readonly string RowsSinceSql =
        $"""
        select submission_id, row_number
          from ({string.Join(" union ", FactKinds.Tables.Select(t =>
              $"select submission_id, row_number from {t} where infant_id = $1 and site_id = $2 and superseded_at is null "
                  + "and recorded_at >= $3"))}) f
          join held_rows h using (submission_id, row_number) where h.resolution = 'applied'
        """;

    private static readonly string StillKnownSql = $"select {string.Join(" or ", FactKinds.Tables.Select(t =>
        $"exists (select from {t} where infant_id = $1 and site_id = $2 and superseded_at is null)"))}";
    private static readonly string[] RestoreSql = EmbeddedSql.Of<DecideClaims>("RestoreClaim")
        .Split(';', StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);

    /// <returns>Why it was not done; null when it was.</returns>
    public Task<WhyNotDecided?> ConfirmAsync(ClaimKey claim, CancellationToken ct) => SayAsync(claim, ClaimVerdict.Confirmed, null, ct);

    /// <param name="claim">Which.</param>
    /// <param name="reason">Why, in the person's words.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Why it was not done; null when it was.</returns>
    public Task<WhyNotDecided?> RefuseAsync(ClaimKey claim, string reason, CancellationToken ct) =>
        SayAsync(claim, ClaimVerdict.Refused, reason, ct);

    /// <summary>It waits again. What was applied because it had been confirmed is closed, and its rows wait as they did.</summary>
    /// <returns>Why it was not done; null when it was.</returns>
    public async Task<WhyNotDecided?> TakeBackAsync(ClaimKey claim, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        var now = clock.Now;
        try
        {
            await InTransaction.RunAsync(connection, async token =>
            {
                var last = await LastAsync(connection, claim, token) ?? throw new NotDecidedException(WhyNotDecided.NothingToTakeBack);
                await AppendAsync(connection, claim, ClaimVerdict.TakenBack, null, now, token);
                if (last.Verdict == ClaimVerdict.Confirmed) await TakeFactsBackAsync(connection, claim, last.At, now, token);
                return true;
            }, ct);
        }
        catch (NotDecidedException e)
        {
            return e.Why;
        }

        await LookAgainAsync(claim, now, ct);
        return null;
    }

    private async Task<WhyNotDecided?> SayAsync(ClaimKey claim, ClaimVerdict verdict, string? reason, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        var now = clock.Now;
        var done = await InTransaction.RunAsync(connection, async token =>
        {
            await using var waits = Command(connection, WaitsSql, claim);
            waits.Parameters.AddWithValue(viewer.IsCoordinator);
            waits.Parameters.AddNullable(viewer.IsSiteManager ? viewer.SiteId?.Value : null, NpgsqlDbType.Uuid);
            if (await waits.ExecuteScalarAsync(token) is null) return false;
            await AppendAsync(connection, claim, verdict, reason, now, token);
            return true;
        }, ct);
        if (!done) return WhyNotDecided.NothingHeld;
        await LookAgainAsync(claim, now, ct);
        return null;
    }

    /// <summary>The rows of the claim are asked again whom they are about, now that something was said of it.</summary>
    private Task<int> LookAgainAsync(ClaimKey claim, DateTimeOffset at, CancellationToken ct) =>
        retry.ForTouchedAsync([claim.InfantId.Value], at, ct);

    private async Task<(ClaimVerdict Verdict, DateTimeOffset At)?> LastAsync(
        NpgsqlConnection connection, ClaimKey claim, CancellationToken ct)
    {
        await using var command = Command(connection, EmbeddedSql.Of<DecideClaims>("FindLastWord"), claim);
        command.Parameters.AddWithValue(viewer.IsCoordinator);
        command.Parameters.AddNullable(viewer.IsSiteManager ? viewer.SiteId?.Value : null, NpgsqlDbType.Uuid);
        await using var r = await command.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct) && r.Code<ClaimVerdict>(0) is var verdict and not ClaimVerdict.TakenBack
            ? (verdict, r.Moment(1)) : null;
    }

    private async Task AppendAsync(
        NpgsqlConnection connection, ClaimKey claim, ClaimVerdict verdict, string? reason, DateTimeOffset at, CancellationToken ct)
    {
        await using var command = Command(connection,
            "insert into claim_decisions (infant_id, site_id, decision, at, person_id, reason) values ($1, $2, $3, $4, $5, $6)", claim);
        command.Parameters.AddWithValue(Codes.Of(verdict));
        command.Parameters.AddWithValue(at.ToUniversalTime());
        command.Parameters.AddWithValue(viewer.PersonId!.Value);
        command.Parameters.AddNullable(FieldKeys.OfProcess.Encrypt(reason, "claim_decisions.reason"), NpgsqlDbType.Text);
        await command.ExecuteNonQueryAsync(ct);
    }

    private async Task TakeFactsBackAsync(
        NpgsqlConnection connection, ClaimKey claim, DateTimeOffset since, DateTimeOffset now, CancellationToken ct)
    {
        var rows = new List<(Guid Submission, int Row)>();
        await using (var select = Command(connection, RowsSinceSql, claim))
        {
            select.Parameters.AddWithValue(since.ToUniversalTime());
            await using var r = await select.ExecuteReaderAsync(ct);
            while (await r.ReadAsync(ct)) rows.Add((r.GetGuid(0), r.GetInt32(1)));
        }

        foreach (var (submission, row) in rows.OrderDescending())
        {
            if (await TakeBackFacts.RunAsync(connection, new(submission), row, claim.InfantId.Value, since, now, ct) is null)
                throw new NotDecidedException(WhyNotDecided.ReportedSince);
        }

        foreach (var sql in RestoreSql)
        {
            await using var restore = new NpgsqlCommand(sql, connection);
            restore.Parameters.AddWithValue(rows.ConvertAll(r => r.Submission));
            restore.Parameters.AddWithValue(rows.ConvertAll(r => r.Row));
            await restore.ExecuteNonQueryAsync(ct);
        }

        await using var known = Command(connection, StillKnownSql, claim);
        if ((bool)(await known.ExecuteScalarAsync(ct))!) throw new NotDecidedException(WhyNotDecided.ReportedSince);
        await RecomputeStatuses.ForInfantsAsync(
            connection, [claim.InfantId.Value], clock.Today, await policies.InForceAsync(clock.Today, ct), ct);
    }

    private static NpgsqlCommand Command(NpgsqlConnection connection, string sql, ClaimKey claim)
    {
        var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddWithValue(claim.InfantId.Value);
        command.Parameters.AddWithValue(claim.SiteId.Value);
        return command;
    }

    /// <summary>Rolls the transaction back.</summary>
    private sealed class NotDecidedException(WhyNotDecided why) : Exception
    {
        public WhyNotDecided Why { get; } = why;
    }
}
