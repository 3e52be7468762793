using System.Text.Json;
using Hangfire;
using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Jobs;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Statistics;

namespace Registry.Benchmarks;

/// <summary>
/// Nightly: writes down what the 1-3-6 of each of the last 24 birth months was on this day, under the policy of this day. Any past figure
/// can be computed again from the facts; what was written then shows whether it still comes out the same.
/// </summary>
/// <remarks>Queue <c>default</c>, nightly, one at a time, three retries; a second run on a day replaces the first.</remarks>
public sealed class ComputeBenchmarks(NpgsqlDataSource source, CountMilestones count, StatusSource statuses, ProgramClock clock)
{
    public const int Months = 24;

    private static readonly string Sql = EmbeddedSql.Of<ComputeBenchmarks>("WriteBenchmark");
    private static readonly Viewer Region = Viewer.Nobody with { Role = Role.Coordinator };

    [OneAtATime]
    [AutomaticRetry(Attempts = 3)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var today = clock.Today;
        var asOf = await statuses.AsOfAsync(today, ct);
        var written = 0;
        for (var back = 0; back < Months; back++)
        {
            var from = new DateOnly(today.Year, today.Month, 1).AddMonths(-back);
            var to = from.AddMonths(1).AddDays(-1);
            foreach (var milestone in MilestoneCounts.Of(await count.ByMonthAsync(asOf, new() { From = from, To = to }, Region, ct)))
            {
                var name = Codes.Of(milestone.Kind);
                await WriteAsync($"{name}.eligible", from, to, asOf, milestone.OfEligible, milestone, ct);
                await WriteAsync($"{name}.served", from, to, asOf, milestone.OfServed, milestone, ct);
                written += 2;
            }
        }

        return $"{written} figures of {Months} birth months";
    }

    private async Task WriteAsync(
        string measure, DateOnly from, DateOnly to, StatusesAsOf asOf, Proportion share, MilestoneCounts counts, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql);
        var p = command.Parameters;
        p.AddWithValue(measure);
        p.AddWithValue(from);
        p.AddWithValue(to);
        p.AddWithValue(asOf.AsOf);
        p.AddWithValue(asOf.PolicyVersion);
        p.AddWithValue((int)share.Numerator);
        p.AddWithValue((int)share.Denominator);
        p.AddWithValue(NpgsqlDbType.Jsonb, JsonSerializer.Serialize(
            new Dictionary<string, long> { ["excluded"] = counts.Excluded, ["in_progress"] = counts.InProgress }));
        p.AddWithValue(clock.Now);
        await command.ExecuteNonQueryAsync(ct);
    }
}
