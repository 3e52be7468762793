using Hangfire;
using Npgsql;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.PolicyVersions;

namespace Registry.FollowUp;

/// <summary>
/// Keeps <c>loss_findings</c>: who became lost when, and who was found again. The status itself says who is lost today;
/// this says what is new. Statuses are brought to today first, so that the order of nightly jobs does not matter.
/// </summary>
/// <remarks>Queue <c>default</c>, nightly and at start, one at a time, three retries.</remarks>
public sealed class FindLossToFollowUp(
    NpgsqlDataSource source, ViewerDatabase data, PolicyStore policies, ProgramClock clock)
{
    private static readonly string Sql = EmbeddedSql.Of<FindLossToFollowUp>("FindLoss");
    private static readonly string SinceSql = EmbeddedSql.Of<FindLossToFollowUp>("LossSince")
        .Replace("{visible}", Visibility.Where("f.infant_id"), StringComparison.Ordinal);

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var today = clock.Today;
        await RecomputeStatuses.ForCalendarAsync(source, today, await policies.InForceAsync(today, ct), ct);
        var (opened, closed) = await OnceAsync(today, ct);
        // An infant lost at a later step than before is closed first, and opened again by the second pass.
        if (closed > 0) opened += (await OnceAsync(today, ct)).Opened;
        return $"{opened} infants newly lost, {closed} no longer lost at that step";
    }

    /// <summary>How many infants the viewer sees became lost, and were found again, since a day (included).</summary>
    public async Task<(int Lost, int Recovered)> SinceAsync(DateOnly day, Viewer viewer, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = new NpgsqlCommand(SinceSql, connection);
        command.Parameters.AddWithValue("since", day);
        Visibility.Bind(command, viewer);
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return (r.GetInt32(0), r.GetInt32(1));
    }

    private async Task<(int Opened, int Closed)> OnceAsync(DateOnly today, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("today", today);
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return (r.GetInt32(0), r.GetInt32(1));
    }
}
