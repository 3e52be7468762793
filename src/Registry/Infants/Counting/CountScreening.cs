using Npgsql;
using Registry.Rules;

namespace Registry.Infants.Counting;

/// <summary>
/// Counts the tests of infants anew from everything ever said of them. Idempotent: running it again changes nothing. Whoever wrote facts
/// runs it in the same transaction, so that a count is never older than the facts it stands on.
/// </summary>
public static class CountScreening
{
    /// <summary>On the caller's connection, in its transaction, which has locked the infants.</summary>
    /// <returns>How many infants' tests counted otherwise.</returns>
    public static async Task<int> ForInfantsAsync(
        NpgsqlConnection connection, Guid[] infants, DateOnly today, Policy inForce, CancellationToken ct)
    {
        var (told, stated) = await ReadHistory.OfAsync(connection, infants, inForce.Zone, ct);
        var policies = stated.Count > 0 ? stated : [inForce];
        List<CountedTest> gone = [], come = [];
        var counts = new CountTests();
        var changed = 0;
        foreach (var infant in told)
        {
            var now = ReplayTests.Of(infant, policies, today);
            var (before, after) = (infant.Stored.ToHashSet(), now.ToHashSet());
            if (before.SetEquals(after)) continue;
            changed++;
            gone.AddRange(before.Except(after));
            come.AddRange(after.Except(before));
            counts.Add(infant.Stored, -1);
            counts.Add(now, 1);
        }

        await StoreCounts.RemoveAsync(connection, gone, ct);
        await StoreCounts.AddAsync(connection, come, ct);
        await StoreCounts.AddAsync(connection, counts, ct);
        return changed;
    }

    /// <summary>Everyone: after a policy change, or to prove that nothing drifted.</summary>
    /// <returns>How many infants' tests counted otherwise.</returns>
    public static Task<int> ForAllAsync(NpgsqlDataSource source, DateOnly today, Policy inForce, CancellationToken ct) =>
        InfantsInChunks.RunAsync(source, InfantsInChunks.All, today, async (connection, chunk) =>
        {
            await InfantsInChunks.LockAsync(connection, chunk, ct);
            return await ForInfantsAsync(connection, chunk, today, inForce, ct);
        }, ct);
}
