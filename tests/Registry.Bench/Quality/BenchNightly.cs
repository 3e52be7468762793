using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Platform;
using Registry.Rules;
using Registry.Rules.Quality;
using Registry.SiteQuality;

namespace Registry.Bench.Quality;

/// <summary>
/// The night's whole look at sites, instruments, probes and screeners (read, watched, named, stored; fitted where it is not yet) beside
/// the plain statement that adds up the same sessions in the database and hands back one line, in regions of two sizes. Last line:
/// <c>ratio:</c> the larger of the two.
/// </summary>
internal static class BenchNightly
{
    private const int Rounds = 5;

    private const string Columns = "site, instrument, probe, screener, day, hour, method, age, nicu, weeks, a, b, c, d, e, f, again",
        Sums = "sum(a), sum(b), sum(c), sum(d), sum(e), sum(f)";

    public static async Task<int> RunAsync(int small, int large)
    {
        await using var bench = await BenchServer.StartAsync();
        var worst = 0.0;
        foreach (var births in new[] { small, large })
        {
            var owner = await bench.CreateAsync($"bench_nightly_{births}");
            await BenchPages.SeedAsync(owner, births);
            worst = Math.Max(worst, await NightAsync(owner, births));
        }

        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {worst:0.00}"));
        return 0;
    }

    private static async Task<double> NightAsync(string owner, int births)
    {
        await using var program = new ProgramOnLoopback(owner);
        program.StartServer();
        var compute = program.Services.GetRequiredService<ComputeSiteRates>();
        var from = ComputeSiteRates.WatchedFrom(program.Services.GetRequiredService<ProgramClock>().Today);
        await using var source = NpgsqlDataSource.Create(owner + ";Command Timeout=0");
        var (nights, sums, said) = (new List<double>(), new List<double>(), "");
        for (var round = -1; round < Rounds; round++)
        {
            var clock = Stopwatch.StartNew();
            said = await compute.RunAsync(CancellationToken.None);
            var night = clock.Elapsed.TotalMilliseconds;
            clock.Restart();
            await using var command = source.CreateCommand($"select count(*), {Sums} from ({EmbeddedSql.Of<ReadCells>()}) c ({Columns})");
            command.Parameters.AddWithValue("from", from);
            command.Parameters.AddWithValue("hours", Policy.Default.SessionHours);
            command.Parameters.AddWithValue("minutes", Policy.Default.SittingMinutes);
            await command.ExecuteScalarAsync();
            if (round < 0) continue; // code, pools and plans are not warm before
            nights.Add(night);
            sums.Add(clock.Elapsed.TotalMilliseconds);
        }

        var (whole, bare) = (nights.Order().ElementAt(Rounds / 2), sums.Order().ElementAt(Rounds / 2));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"{births:N0} births: the night {whole:0} ms, the plain statement {bare:0} ms, {whole / bare:0.00} times ({said})"));
        await SayPartsAsync(program, from);
        return whole / bare;
    }

    /// <summary>Where the night's time goes: reading, watching for a change, comparing with what is expected.</summary>
    private static async Task SayPartsAsync(ProgramOnLoopback program, DateOnly from)
    {
        var today = program.Services.GetRequiredService<ProgramClock>().Today;
        var policy = Policy.Default;
        var clock = Stopwatch.StartNew();
        var (plan, watched) = await program.Services.GetRequiredService<KeepPlans>().ForAsync(from, policy, CancellationToken.None);
        var read = clock.Elapsed.TotalMilliseconds;
        clock.Restart();
        await program.Services.GetRequiredService<ReadCells>().SinceAsync(from, policy, CancellationToken.None);
        var cells = clock.Elapsed.TotalMilliseconds;
        clock.Restart();
        _ = WatchRegion.Over(plan, watched, [], policy);
        var watch = clock.Elapsed.TotalMilliseconds;
        clock.Restart();
        _ = CompareUnits.Of(watched.Where(c => c.Day > today.AddYears(-1) && c.Day <= today), plan.Models.Values, policy);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"of one more: read {read:0} ms (cells {cells:0} ms), watched {watch:0} ms, "
                + $"compared {clock.Elapsed.TotalMilliseconds:0} ms, of {watched.Count:N0} cells"));
    }
}
