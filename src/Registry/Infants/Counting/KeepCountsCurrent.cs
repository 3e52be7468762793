using Hangfire;
using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;

namespace Registry.Infants.Counting;

/// <summary>
/// The jobs beside the counting that intake does in its own transactions: what changed is added to the sums; and everything is counted anew
/// from the facts, after a policy that counts otherwise or to prove that nothing drifted.
/// </summary>
/// <remarks>Queue <c>default</c>, one at a time, three retries. Folding runs every minute and at start: a page adds what is not folded yet,
/// so it only gets slower when this is late.</remarks>
public sealed class KeepCountsCurrent(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, ILogger<KeepCountsCurrent> log)
{
    private static readonly string KeptSql = EmbeddedSql.Of<KeepCountsCurrent>("SumCounts")
        .Replace("{figures}", ScreenColumns.Each(c => c), StringComparison.Ordinal)
        .Replace("{places}", StoreCounts.PlaceColumns, StringComparison.Ordinal);

    private bool _hasLooked;

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RecountAsync(CancellationToken ct)
    {
        var policy = await policies.InForceAsync(clock.Today, ct);
        var infants = await CountScreening.ForAllAsync(source, clock.Today, policy, ct);
        var sums = 0;
        foreach (var site in await SitesAsync(ct)) sums += await CorrectSumsAsync(site, ct);
        log.LogInformation("Tests counted anew: {Infants} infants, {Sums} sums differed", infants, sums);
        return $"{infants} infants and {sums} sums differed";
    }

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> FoldAsync(CancellationToken ct)
    {
        if (!_hasLooked && await NothingIsCountedAsync(ct)) await RecountAsync(ct);
        _hasLooked = true;
        await using var connection = await source.OpenConnectionAsync(ct);
        long all = 0, some;
        do
        {
            some = await InTransaction.RunAsync(connection, token => FoldCounts.SomeAsync(connection, FoldCounts.AtOnce, token), ct);
            all += some;
        }
        while (some == FoldCounts.AtOnce);
        return $"{all} changes added to the sums";
    }

    /// <summary>What the counted tests of a site add up to, beside what is kept: the difference is added to the sums. All is read at one
    /// moment, at which nobody folds; what others add meanwhile adds up with it.</summary>
    private async Task<int> CorrectSumsAsync(Guid site, CancellationToken ct)
    {
        await using var turn = await source.OpenConnectionAsync(ct);
        await using var waited = await turn.BeginTransactionAsync(ct);
        await AdvisoryLock.ForTransactionAsync(turn, LockedThing.ScreenCounts, "", ct);
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(System.Data.IsolationLevel.RepeatableRead, ct);
        var sums = new Dictionary<CountKey, int[]>();
        foreach (var (place, figures) in (await CountedAsync(connection, site, ct)).Changes)
            foreach (var key in place.Sums()) Add(sums, key, figures, 1);
        await using (var kept = new NpgsqlCommand(KeptSql, connection))
        {
            kept.Parameters.AddWithValue("site", site);
            await using var r = await kept.ExecuteReaderAsync(ct);
            while (await r.ReadAsync(ct)) Add(sums, StoreCounts.ReadKey(r), StoreCounts.ReadSum(r), -1);
            await r.NextResultAsync(ct);
            while (await r.ReadAsync(ct))
            {
                var (place, figures) = StoreCounts.ReadChange(r);
                foreach (var key in place.Sums()) Add(sums, key, figures, -1);
            }
        }

        KeyValuePair<CountKey, int[]>[] difference = [.. sums.Where(s => s.Value.AsSpan().ContainsAnyExcept(0))];
        await StoreCounts.AddToSumsAsync(connection, difference, ct);
        await transaction.CommitAsync(ct);
        return difference.Length;
    }

    private static void Add(Dictionary<CountKey, int[]> sums, CountKey key, int[] figures, int sign)
    {
        if (!sums.TryGetValue(key, out var sum)) sums[key] = sum = new int[figures.Length];
        for (var i = 0; i < sum.Length; i++) sum[i] += sign * figures[i];
    }

    private static async Task<CountTests> CountedAsync(NpgsqlConnection connection, Guid site, CancellationToken ct)
    {
        var counted = new CountTests();
        await using var tests = new NpgsqlCommand(
            $"select {StoreCounts.TestColumns} from counted_tests where site_id = $1 order by infant_id", connection);
        tests.Parameters.AddWithValue(site);
        await using var r = await tests.ExecuteReaderAsync(ct);
        List<CountedTest> infant = [];
        while (await r.ReadAsync(ct))
        {
            var test = StoreCounts.ReadTest(r);
            if (infant.Count > 0 && infant[0].InfantId != test.InfantId)
            {
                counted.Add(infant, 1);
                infant.Clear();
            }

            infant.Add(test);
        }

        counted.Add(infant, 1);
        return counted;
    }

    /// <summary>Tests were recorded before there were counts.</summary>
    private async Task<bool> NothingIsCountedAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            "select not exists (select from screen_counts) and not exists (select from count_changes) and exists (select from screenings)");
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    private async Task<List<Guid>> SitesAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand("select id from sites order by id");
        await using var r = await command.ExecuteReaderAsync(ct);
        var sites = new List<Guid>();
        while (await r.ReadAsync(ct)) sites.Add(r.GetGuid(0));
        return sites;
    }
}
