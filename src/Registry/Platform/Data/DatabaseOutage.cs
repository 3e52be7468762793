using Npgsql;

namespace Registry.Platform.Data;

/// <summary>Tells a database that does not answer (it starts, stops, recovers, is not reached, has no connection left) from one that
/// refuses a statement. What met an outage can be asked again unchanged.</summary>
public static class DatabaseOutage
{
    /// <summary>Seconds after which it is worth asking again: PostgreSQL recovers from a crash in a few.</summary>
    public const int RetryAfterSeconds = 5;

    /// <summary>Was the failure, or what caused it, an outage?</summary>
    public static bool IsCauseOf(Exception? failure) => failure switch
    {
        null => false,
        PostgresException refusal => refusal.SqlState is PostgresErrorCodes.AdminShutdown or PostgresErrorCodes.CrashShutdown
            or PostgresErrorCodes.CannotConnectNow or PostgresErrorCodes.TooManyConnections
            || refusal.SqlState.StartsWith("08", StringComparison.Ordinal),
        NpgsqlException { IsTransient: true } => true,
        _ => IsCauseOf(failure.InnerException),
    };

    /// <summary>What a log may say of a failure: the text of a database error can repeat values.</summary>
    public static string Name(Exception failure) => failure is PostgresException refusal ? refusal.SqlState : failure.GetType().Name;
}
