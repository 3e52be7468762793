using Npgsql;
using Registry.Platform;

namespace Registry.Outreach;

/// <summary>Ends the reminders about the infant whose letter bore a token, and withdraws those that wait.</summary>
public sealed class StopReminders(NpgsqlDataSource source, ProgramClock clock)
{
    private const int LongestToken = 100;
    private static readonly string Sql = EmbeddedSql.Of<StopReminders>();

    /// <summary>An unknown token does nothing, and nobody is told which it was.</summary>
    public async Task RunAsync(string token, CancellationToken ct)
    {
        if (token.Length > LongestToken) return;
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("token", token);
        command.Parameters.AddWithValue("now", clock.Now);
        await command.ExecuteNonQueryAsync(ct);
    }
}
