using Hangfire;
using Npgsql;
using Registry.Facts;
using Registry.Infants.Counting;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;

namespace Registry.FollowUp;

/// <summary>
/// Keeps <c>loss_findings</c>: who became lost when by the rules, the night that was found, and who was found again. The status itself says
/// who is lost today; this says what is new. The first night of a registry finds the weeks before it too, from everybody's facts as known
/// then; later nights look only at whom the statuses call lost anew. Statuses are brought to today first, so that the order of nightly jobs
/// does not matter.
/// </summary>
/// <remarks>Queue <c>default</c>, nightly and at start, one at a time, three retries. Run again it changes nothing.</remarks>
public sealed class FindLossToFollowUp(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    private static readonly string CloseSql = EmbeddedSql.Of<FindLossToFollowUp>("CloseLosses");
    private static readonly string FindSql = EmbeddedSql.Of<FindLossToFollowUp>("FindLosses");

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var today = clock.Today;
        var policy = await policies.InForceAsync(today, ct);
        await RecomputeStatuses.ForCalendarAsync(source, today, policy, ct);
        var isFirst = await FirstNightAsync(ct) is null;
        await using var connection = await source.OpenConnectionAsync(ct);
        var (opened, closed) = await InTransaction.RunAsync(connection, async token =>
        {
            if (isFirst) return (await AddHistoryAsync(connection, policy, today, token), 0);
            var closing = await CloseAsync(connection, today, token);
            return (await AddNewAsync(connection, policy, today, token), closing);
        }, ct);
        return $"{opened} infants newly lost, {closed} no longer lost at that step";
    }

    /// <summary>The night that found what had been before: weeks that ended by then are as known on it. Null: nobody was ever
    /// lost.</summary>
    public async Task<DateOnly?> FirstNightAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand("select min(found_on) from loss_findings");
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return r.ValueOrNull<DateOnly>(0);
    }

    private static async Task<int> CloseAsync(NpgsqlConnection connection, DateOnly today, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(CloseSql, connection);
        command.Parameters.AddWithValue("today", today);
        return await command.ExecuteNonQueryAsync(ct);
    }

    private static async Task<int> AddHistoryAsync(NpgsqlConnection connection, Policy policy, DateOnly today, CancellationToken ct)
    {
        var open = 0;
        await foreach (var infants in WalkInfants.KnownAtAsync(connection, DateTimeOffset.MaxValue, null, ct))
        {
            var found = infants.SelectMany(i => ListLosses.Of(i.Facts, policy, today).Select(s => (i.Id, Stretch: s))).ToList();
            await WriteAsync(connection, found, today, ct);
            open += found.Count(f => f.Stretch.Until is null);
        }

        return open;
    }

    private static async Task<int> AddNewAsync(NpgsqlConnection connection, Policy policy, DateOnly today, CancellationToken ct)
    {
        var infants = new List<Guid>();
        await using (var command = new NpgsqlCommand(FindSql, connection))
        await using (var r = await command.ExecuteReaderAsync(ct))
            while (await r.ReadAsync(ct)) infants.Add(r.GetGuid(0));
        foreach (var chunk in infants.Chunk(InfantsInChunks.Size))
        {
            var known = await FactsForRules.KnownAtAsync(connection, chunk, DateTimeOffset.MaxValue, ct);
            await WriteAsync(connection, [.. known.SelectMany(i => ListLosses.Of(i.Facts, policy, today).Where(s => s.Until is null)
                .Select(s => (i.Id, s)))], today, ct);
        }

        return infants.Count;
    }

    private static Task WriteAsync(
        NpgsqlConnection connection, List<(InfantId Infant, LossStretch Stretch)> found, DateOnly today, CancellationToken ct) =>
        CopyRows.RunAsync(connection,
            "copy loss_findings (id, infant_id, step, loss, lost_on, found_on, recovered_on, recovered_as) from stdin (format binary)",
            found, (row, f) =>
            {
                row.Id(Guid.CreateVersion7());
                row.Id(f.Infant.Value);
                row.Code(f.Stretch.Step);
                row.Code(f.Stretch.Loss);
                row.Date(f.Stretch.From);
                row.Date(today);
                row.Date(f.Stretch.Until);
                row.Code(f.Stretch.Then);
            }, ct);
}
