using Hangfire;
using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Intake.HeldRows.Bulk;

/// <summary>Writes down that chosen rows are decided, or the decision taken back; a worker carries it out
/// (<see cref="DecideInBulk"/>).</summary>
public sealed class StartBulkDecision(NpgsqlDataSource source, DecideInBulk carryOut, ProgramClock clock, IServiceProvider services)
{
    /// <summary>Up to so many rows are decided while the person waits.</summary>
    private const int InlineRows = 25;

    /// <summary>What was chosen and never decided is forgotten after so long.</summary>
    private static readonly TimeSpan KeptUndecided = TimeSpan.FromDays(1);

    /// <summary>The decision, once.</summary>
    /// <returns>False when something was decided already.</returns>
    public async Task<bool> DecideAsync(BulkDecision bulk, CancellationToken ct)
    {
        await using var decide = source.CreateCommand(EmbeddedSql.Of<StartBulkDecision>("DecideBulk"));
        decide.Parameters.AddWithValue(bulk.Id);
        decide.Parameters.AddCode(bulk.Kind);
        decide.Parameters.AddWithValue(clock.Now.ToUniversalTime());
        decide.Parameters.AddWithValue(bulk.DecidedBy!.Value);
        decide.Parameters.AddNullable(bulk.Field, NpgsqlDbType.Text);
        decide.Parameters.AddNullable(FieldKeys.OfProcess.Encrypt(bulk.FromValue, "bulk_decisions.from_value"), NpgsqlDbType.Text);
        decide.Parameters.AddNullable(FieldKeys.OfProcess.Encrypt(bulk.ToValue, "bulk_decisions.to_value"), NpgsqlDbType.Text);
        decide.Parameters.AddNullable(bulk.InfantId?.Value, NpgsqlDbType.Uuid);
        return await decide.ExecuteNonQueryAsync(ct) > 0;
    }

    /// <summary>Asks for the whole decision to be taken back, also while it is carried out: what has not had its turn is left as it is.
    /// When it is through it can be asked for again, for the rows that could not be taken back then.</summary>
    /// <returns>False when it was asked for already, or nothing is left to take back.</returns>
    public async Task<bool> TakeBackAsync(Guid id, Guid by, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        return await InTransaction.RunAsync(connection, async token =>
        {
            await using var ask = new NpgsqlCommand(EmbeddedSql.Of<StartBulkDecision>("TakeBackBulk"), connection);
            ask.Parameters.AddWithValue(id);
            ask.Parameters.AddWithValue(clock.Now.ToUniversalTime());
            ask.Parameters.AddWithValue(by);
            if (await ask.ExecuteNonQueryAsync(token) == 0) return false;
            await using var again = new NpgsqlCommand(
                "update bulk_rows set reason = null where bulk_id = $1 and state = 'done' and reason is not null", connection);
            again.Parameters.AddWithValue(id);
            await again.ExecuteNonQueryAsync(token);
            return true;
        }, ct);
    }

    /// <summary>Carries it out: a few rows at once, many by a worker.</summary>
    public async Task CarryOutAsync(Guid id, int rows)
    {
        if (rows <= InlineRows) await carryOut.RunAsync(id, CancellationToken.None);
        else services.GetService<IBackgroundJobClient>()?.Enqueue<DecideInBulk>(job => job.RunAsync(id, CancellationToken.None));
    }

    /// <summary>Forgets what was chosen a day ago and never decided: nothing came of it.</summary>
    public async Task ForgetUndecidedAsync(CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await InTransaction.RunAsync(connection, async token =>
        {
            var forgotten = await LockUndecidedAsync(connection, token);
            foreach (var sql in (string[])
                ["delete from bulk_rows where bulk_id = any($1)", "delete from bulk_decisions where id = any($1)"])
            {
                await using var forget = new NpgsqlCommand(sql, connection);
                forget.Parameters.AddWithValue(forgotten);
                await forget.ExecuteNonQueryAsync(token);
            }

            return forgotten.Length;
        }, ct);
    }

    private async Task<Guid[]> LockUndecidedAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var find = new NpgsqlCommand(
            "select id from bulk_decisions where decided_at is null and chosen_at < $1 for update", connection);
        find.Parameters.AddWithValue((clock.Now - KeptUndecided).ToUniversalTime());
        var found = new List<Guid>();
        await using var r = await find.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) found.Add(r.GetGuid(0));
        return [.. found];
    }
}
