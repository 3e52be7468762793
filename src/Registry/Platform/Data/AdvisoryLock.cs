using Npgsql;

namespace Registry.Platform.Data;

/// <summary>What an advisory lock of PostgreSQL guards. The number is its key space; each has its own.</summary>
public enum LockedThing
{
    /// <summary>A sender's Idempotency-Key while its submission is received: <c>site/key</c>.</summary>
    IdempotencyKey = 7,

    /// <summary>A submission while it is processed: its id.</summary>
    Submission = 11,

    /// <summary>A bulk decision while it runs: its id.</summary>
    BulkDecision = 13,

    /// <summary>The column mappings of a site while one is saved: the site's id.</summary>
    ColumnMappings = 17,

    /// <summary>A job that must not overlap itself: its name.</summary>
    Job = 23,

    /// <summary>Statuses of a past day while they are computed: one key for all days.</summary>
    Snapshot = 41,

    /// <summary>Births of one day, so that one infant is not made twice: the day's number, days far apart sharing one.</summary>
    BirthDay = 29,

    /// <summary>The rights of the database's logins while <c>migrate</c> states them.</summary>
    Rights = 31,

    /// <summary>The end of the access trail while entries are put to it.</summary>
    Trail = 37,

    /// <summary>A registry that nobody administers yet while its first administrator is made.</summary>
    FirstAdministrator = 43,

    /// <summary>The policy a registry starts from while it is chosen.</summary>
    FirstPolicy = 47,

    /// <summary>The sums of tests while changes are added to them: one key.</summary>
    ScreenCounts = 67,

    /// <summary>The counts of statuses while they are counted anew: one key.</summary>
    StatusCounts = 71,

    /// <summary>The counts of work while their rows are put together: one key.</summary>
    WorkCounts = 73,

    /// <summary>Somebody of an OpenID provider while they sign in: <c>issuer\nsubject</c>.</summary>
    OpenIdPerson = 53,

    /// <summary>Somebody's tries to break the glass while one is looked at: the person's id.</summary>
    GlassTry = 61,

    /// <summary>The words of names: shared by who writes births, alone while an infant is erased. Taken by triggers
    /// (Records/SearchWords.sql).</summary>
    SearchWords = 59,
}

/// <summary>Takes turns by PostgreSQL's advisory locks. A lock for a transaction ends with it, one for a session with
/// <see cref="ReleaseAsync"/> or the connection.</summary>
public static class AdvisoryLock
{
    private const string WaitSql = "select pg_advisory_xact_lock(hashtextextended($1, $2))";

    /// <summary>The same as a statement of a batch, for what is read as soon as it is held.</summary>
    public static NpgsqlBatchCommand ForTransaction(LockedThing what, string key) =>
        new(WaitSql) { Parameters = { new() { Value = key }, new() { Value = (long)what } } };

    /// <summary>Waits for the lock; it ends with the transaction.</summary>
    public static async Task ForTransactionAsync(NpgsqlConnection connection, LockedThing what, string key, CancellationToken ct)
    {
        await using var command = Command(connection, WaitSql, what, key);
        await command.ExecuteNonQueryAsync(ct);
    }

    /// <summary>Waits for some locks, in their order, by one statement; they end with the transaction. Whoever takes several takes them in
    /// one order.</summary>
    public static async Task AllForTransactionAsync(
        NpgsqlConnection connection, LockedThing what, IReadOnlyCollection<string> keys, CancellationToken ct)
    {
        if (keys.Count == 0) return;
        await using var command = new NpgsqlCommand(
            "select pg_advisory_xact_lock(hashtextextended(key, $2)) from unnest($1) as key", connection);
        command.Parameters.AddWithValue(keys.ToArray());
        command.Parameters.AddWithValue((long)what);
        await command.ExecuteNonQueryAsync(ct);
    }

    /// <returns>False when another transaction holds it.</returns>
    public static Task<bool> TryForTransactionAsync(NpgsqlConnection connection, LockedThing what, string key, CancellationToken ct) =>
        AskAsync(connection, "select pg_try_advisory_xact_lock(hashtextextended($1, $2))", what, key, ct);

    /// <returns>False when another session holds it.</returns>
    public static Task<bool> TryForSessionAsync(NpgsqlConnection connection, LockedThing what, string key, CancellationToken ct) =>
        AskAsync(connection, "select pg_try_advisory_lock(hashtextextended($1, $2))", what, key, ct);

    /// <summary>Waits for the lock; it ends with the session. Blocks, for callers that cannot wait otherwise.</summary>
    public static void ForSession(NpgsqlConnection connection, LockedThing what, string key, TimeSpan patience)
    {
        using var command = Command(connection, "select pg_advisory_lock(hashtextextended($1, $2))", what, key);
        command.CommandTimeout = (int)patience.TotalSeconds;
        command.ExecuteNonQuery();
    }

    /// <summary>Gives back a session's lock.</summary>
    public static Task<bool> ReleaseAsync(NpgsqlConnection connection, LockedThing what, string key, CancellationToken ct) =>
        AskAsync(connection, "select pg_advisory_unlock(hashtextextended($1, $2))", what, key, ct);

    private static async Task<bool> AskAsync(NpgsqlConnection connection, string sql, LockedThing what, string key, CancellationToken ct)
    {
        await using var command = Command(connection, sql, what, key);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    private static NpgsqlCommand Command(NpgsqlConnection connection, string sql, LockedThing what, string key)
    {
        var command = new NpgsqlCommand(sql, connection);
        command.Parameters.AddWithValue(key);
        command.Parameters.AddWithValue((long)what);
        return command;
    }
}
