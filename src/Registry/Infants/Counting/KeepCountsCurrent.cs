using Hangfire;
using Npgsql;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;

namespace Registry.Infants.Counting;

/// <summary>
/// The jobs beside the counting that intake does in its own transactions: everything counted anew from the facts, after a policy that
/// counts otherwise or to prove that nothing drifted; and rows of one group put together.
/// </summary>
/// <remarks>Queue <c>default</c>, one at a time, three retries. Folding runs nightly and at start.</remarks>
public sealed class KeepCountsCurrent(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock, ILogger<KeepCountsCurrent> log)
{
    private static readonly string StoredSql = EmbeddedSql.Of<KeepCountsCurrent>("SumCounts")
        .Replace("{sums}", Sums, StringComparison.Ordinal);

    private static string Sums => string.Join(", ", ScreenFigures.Columns.Select(c => $"sum({c})::int"));

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
        if (await NothingIsCountedAsync(ct)) await RecountAsync(ct);
        await using var connection = await source.OpenConnectionAsync(ct);
        return $"{await FoldCounts.RunAsync(connection, ct)} rows put together";
    }

    /// <summary>What the counted tests of a site add up to, beside what is stored: the difference is added. Both are read at one moment;
    /// what others add meanwhile adds up with it.</summary>
    private async Task<int> CorrectSumsAsync(Guid site, CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        await using var transaction = await connection.BeginTransactionAsync(System.Data.IsolationLevel.RepeatableRead, ct);
        var difference = new CountTests();
        await using (var tests = new NpgsqlCommand(
            $"select {StoreCounts.TestColumns} from counted_tests where site_id = $1 order by infant_id", connection))
        {
            tests.Parameters.AddWithValue(site);
            await using var r = await tests.ExecuteReaderAsync(ct);
            List<CountedTest> infant = [];
            while (await r.ReadAsync(ct))
            {
                var test = StoreCounts.ReadTest(r);
                if (infant.Count > 0 && infant[0].InfantId != test.InfantId)
                {
                    difference.Add(infant, 1);
                    infant.Clear();
                }

                infant.Add(test);
            }

            difference.Add(infant, 1);
        }

        await using (var stored = new NpgsqlCommand(StoredSql, connection))
        {
            stored.Parameters.AddWithValue(site);
            await using var r = await stored.ExecuteReaderAsync(ct);
            while (await r.ReadAsync(ct)) difference.TakeAway(StoreCounts.ReadKey(r), StoreCounts.ReadFigures(r));
        }

        await StoreCounts.AddAsync(connection, difference, ct);
        await transaction.CommitAsync(ct);
        return difference.Counts.Count;
    }

    /// <summary>Tests were recorded before there were counts.</summary>
    private async Task<bool> NothingIsCountedAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand(
            "select not exists (select from counted_tests) and exists (select from screenings)");
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
