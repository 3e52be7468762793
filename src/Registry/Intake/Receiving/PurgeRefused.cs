using Hangfire;
using Npgsql;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;

namespace Registry.Intake.Receiving;

/// <summary>
/// Deletes the bytes of files that were refused as a whole, so many days after as the policy says: no row of them was applied, and they may
/// hold anybody's data. That they were sent, when, by whom, their hash and why they were refused stays. The database lets go of no other
/// bytes (<c>purge_refused_bytes</c>), whoever asks.
/// </summary>
/// <remarks>Queue <c>default</c>, nightly. Idempotent.</remarks>
public sealed class PurgeRefused(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    private const int AtOnce = 500;

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var before = clock.Now.AddDays(-(await policies.InForceAsync(clock.Today, ct)).RefusedFileDays);
        var (purged, some) = (0, AtOnce);
        while (some == AtOnce)
        {
            await using var command = source.CreateCommand("select purge_refused_bytes($1, $2)");
            command.Parameters.AddWithValue(before);
            command.Parameters.AddWithValue(AtOnce);
            some = (int)(await command.ExecuteScalarAsync(ct))!;
            purged += some;
        }

        return $"the bytes of {purged} refused files deleted";
    }
}
