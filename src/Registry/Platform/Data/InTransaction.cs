using Npgsql;

namespace Registry.Platform.Data;

/// <summary>Runs work in a transaction, and again when another transaction was in its way.</summary>
internal static class InTransaction
{
    private const int Attempts = 6;

    public static async Task<T> RunAsync<T>(NpgsqlConnection connection, Func<CancellationToken, Task<T>> work, CancellationToken ct)
    {
        for (var attempt = 1; ; attempt++)
        {
            await using var transaction = await connection.BeginTransactionAsync(ct);
            try
            {
                var result = await work(ct);
                await transaction.CommitAsync(ct);
                return result;
            }
            catch (PostgresException e) when (attempt < Attempts && e.SqlState is
                PostgresErrorCodes.UniqueViolation or PostgresErrorCodes.DeadlockDetected or PostgresErrorCodes.SerializationFailure)
            {
                await transaction.RollbackAsync(ct);
                await Task.Delay(20 * attempt, ct);
            }
        }
    }
}
