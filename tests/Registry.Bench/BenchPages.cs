using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Infants.Counting;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Rules;
using Registry.SiteQuality;

namespace Registry.Bench;

/// <summary>
/// What the pages of sites and the overview cost beside the bare statements that sum their counts, in regions of two sizes: each page as it
/// is served, and the statements on the program's own connections, in turn, in one process. Last line: <c>ratio:</c> the largest of page to
/// statement, and of the larger region to the smaller.
/// </summary>
internal static class BenchPages
{
    private const int Rounds = 40, Sites = 24;
    private static readonly DateOnly Today = new(2026, 11, 25);

    public static async Task<int> RunAsync(int small, int large)
    {
        await using var bench = await BenchServer.StartAsync();
        var worst = 0.0;
        List<double[]> bySize = [];
        foreach (var births in new[] { small, large })
        {
            var database = await bench.CreateAsync($"bench_pages_{births}");
            await SeedAsync(database, births);
            bySize.Add(await PagesAsync(database, births));
        }

        foreach (var (i, page) in Pages.Index())
        {
            var (page1, bare1, page2, bare2) = (bySize[0][2 * i], bySize[0][(2 * i) + 1], bySize[1][2 * i], bySize[1][(2 * i) + 1]);
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"{page.Path,-28} {page1,7:0.0} ms / {bare1,6:0.0} ms = {page1 / bare1,4:0.00} at {small:N0}; {page2,7:0.0} ms / {bare2,6:0.0} ms = "
                    + $"{page2 / bare2,4:0.00} at {large:N0}; larger to smaller {page2 / page1:0.00}"));
            worst = new[] { worst, page1 / bare1, page2 / bare2, page2 / page1 }.Max();
        }

        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {worst:0.00}"));
        return 0;
    }

    private static readonly ScreenGrouping[] OfSite =
    [
        ScreenGrouping.Instrument, ScreenGrouping.Probe, ScreenGrouping.Screener, ScreenGrouping.Method, ScreenGrouping.Age,
        ScreenGrouping.Hour, ScreenGrouping.Week, ScreenGrouping.Received,
    ];

    private static readonly StatusFigure[] Milestones = [StatusFigure.Screened, StatusFigure.Diagnosed, StatusFigure.Enrolled],
        Attention = [StatusFigure.Due, StatusFigure.LostHow], Births = [StatusFigure.Screened, StatusFigure.Diagnosed, StatusFigure.LostAt];

    /// <summary>Each page, what it must say to be the page, and the counts it shows: of the region's units, and of one site's.</summary>
    private static readonly (string Path, string Says, ScreenGrouping[] Region, ScreenGrouping[] Site, StatusFigure[][] Statuses)[] Pages =
    [
        ("/sites?by=site", "Bench 0", [ScreenGrouping.Site], [], [Births]),
        ("/sites?by=instrument", "Bench 0", [ScreenGrouping.Instrument], [], []),
        ("/sites/bench-0", "Week by week", [ScreenGrouping.Site], OfSite, [Births]),
        ("/sites/bench-0/report", "Infants missed", [ScreenGrouping.Site], OfSite, [Births]),
        ("/", "Needs attention", [], [], [Milestones, Attention]),
    ];

    /// <summary>Of each page its median, then that of its statements.</summary>
    private static async Task<double[]> PagesAsync(string owner, int births)
    {
        await using var program = new ProgramOnLoopback(owner);
        program.StartServer();
        using var person = await program.PersonClientAsync(Role.Coordinator, null);
        var count = program.Services.GetRequiredService<CountScreens>();
        var statuses = program.Services.GetRequiredService<ReadStatusCounts>();
        SiteId site;
        await using (var source = NpgsqlDataSource.Create(owner))
        await using (var command = source.CreateCommand("select id from sites where code = 'bench-0'"))
            site = new((Guid)(await command.ExecuteScalarAsync())!);
        var asked = await program.Services.GetRequiredService<AskScreens>().AsOfAsync(
            new(Today.AddYears(-1).AddDays(1), Today), CountedDay.Test, null, Today, CancellationToken.None);
        var today = await program.Services.GetRequiredService<StatusSource>().AsOfAsync(Today, CancellationToken.None);
        var medians = new List<double>();
        foreach (var shown in Pages)
        {
            var served = await person.GetStringAsync(shown.Path);
            if (!served.Contains(shown.Says, StringComparison.Ordinal))
                throw new InvalidOperationException($"{shown.Path} is not what is served: {served[..Math.Min(served.Length, 2_000)]}");
            var (page, bare) = (new List<double>(), new List<double>());
            for (var i = -5; i < Rounds; i++)
            {
                var (one, other) = (await TimeAsync(() => person.GetStringAsync(shown.Path)), await TimeAsync(SumAsync));
                if (i < 0) continue; // before that code, pools and plans are not warm
                page.Add(one);
                bare.Add(other);
            }

            medians.AddRange([page.Order().ElementAt(Rounds / 2), bare.Order().ElementAt(Rounds / 2)]);

            async Task SumAsync()
            {
                foreach (var grouping in shown.Region) await ReadAsync(count.Command(grouping, asked));
                foreach (var grouping in shown.Site)
                    await ReadAsync(count.Command(
                        grouping, asked with { Site = site }, grouping == ScreenGrouping.Received ? "day" : "null::date"));
                foreach (var figures in shown.Statuses)
                    await ReadAsync(statuses.Command(today, figures,
                        figures == Attention ? (null, null) : (asked.Period.From, asked.Period.To), null,
                        figures == Births ? "site_id" : "date_trunc('month', born_on)::date"));
            }
        }

        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{births:N0} births measured"));
        return [.. medians];
    }

    private static async Task ReadAsync(NpgsqlCommand command)
    {
        await using (command)
        await using (var reader = await command.ExecuteReaderAsync())
        {
            while (await reader.ReadAsync())
            {
            }
        }
    }

    private static async Task<double> TimeAsync(Func<Task> work)
    {
        var clock = Stopwatch.StartNew();
        await work();
        return clock.Elapsed.TotalMilliseconds;
    }

    /// <summary>A year of births at 24 hospitals, each with two instruments, four probes and six screeners; a test of each
    /// ear at twelve to forty-eight hours, one in twenty-five repeated, and what is derived from it by the program itself.</summary>
    public static async Task SeedAsync(string owner, int births)
    {
        var clock = Stopwatch.StartNew();
        const string id = "('01900000-0000-7000-8000-' || lpad(to_hex(n), 12, '0'))::uuid";
        var born = $"(date '2025-11-26' + ((n::bigint * 364) / {births})::int)";
        var sent = $"({born} + 1 + n % 3 + time '20:00') at time zone 'UTC'";
        var fact = "gen_random_uuid(), " + id + ", s.id, least(" + sent + ", timestamptz '2026-11-25 11:00Z')";
        var from = $"from generate_series(0, {births - 1}) n join sites s on s.code = 'bench-' || n % {Sites}";
        await using var source = NpgsqlDataSource.Create(owner + ";Pooling=false;Command Timeout=0");
        const string test = "insert into screenings (id, infant_id, site_id, recorded_at, ear, method, outcome, reason, stage, performed_at, "
            + "instrument, probe, screener) select ";
        foreach (var sql in new[]
        {
            "insert into sites (id, code, name, county, kind, has_nicu, active) select gen_random_uuid(), 'bench-' || i, 'Bench ' || i, "
                + $"'Lind', 'hospital', false, true from generate_series(0, {Sites - 1}) i",
            $"insert into infants (id, created_at) select {id}, now() {from}",
            $"insert into births (id, infant_id, site_id, recorded_at, born_on, born_at, place, sex, gestation_weeks, discharged_on, "
                + $"mother_family_key, email_consent) select {fact}, {born}, time '06:00' + n % 720 * interval '1 minute', 'hospital', "
                + $"'female', 34 + n % 8, {born} + 3, 'FAMILY' || n, true {from}",
            test + $"{fact}, ear, case n % 2 when 0 then 'aabr' else 'teoae' end, case when (n * 7 + length(ear)) % 17 = 0 then 'refer' else "
                + $"'pass' end, 'none', 'birth_admission', {born} + interval '20 hours' + n % 1600 * interval '1 minute', 'I' || n / {Sites} % 2, "
                + $"'P' || n / {Sites} % 4, 'S' || n / {Sites} % 6 {from} cross join unnest(array['right', 'left']) ear",
            test + $"{fact}, 'left', 'teoae', 'no_valid_result', case n % 2 when 0 then 'no_seal' else 'noise' end, 'birth_admission', "
                + $"{born} + interval '19 hours' + n % 1600 * interval '1 minute', 'I' || n / {Sites} % 2, 'P' || n / {Sites} % 4, "
                + $"'S' || n / {Sites} % 6 {from} where n % 25 = 0",
            "vacuum (analyze)",
        })
            await ExecuteAsync(source, sql);
        var seeded = clock.Elapsed;
        await RecomputeStatuses.ForAllAsync(source, Today, Policy.Default, CancellationToken.None);
        var statuses = clock.Elapsed;
        await CountScreening.ForAllAsync(source, Today, Policy.Default, CancellationToken.None);
        var counted = clock.Elapsed;
        await using (var connection = await source.OpenConnectionAsync())
        await using (var transaction = await connection.BeginTransactionAsync())
        {
            await FoldCounts.AllAsync(connection, CancellationToken.None);
            await CountStatuses.RunAsync(connection, Today, CancellationToken.None);
            await transaction.CommitAsync();
        }

        await ExecuteAsync(source, "vacuum (analyze)");
        var all = clock.Elapsed;
        var (now, changed, counts) = (await ScalarAsync(source, "select count(*) from screen_counts where changed_on is null"),
            await ScalarAsync(source, "select count(*) from screen_counts where changed_on is not null"),
            await ScalarAsync(source, "select count(*) from status_counts"));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"{births:N0} births: facts {seeded.TotalSeconds:0} s, statuses {(statuses - seeded).TotalSeconds:0} s, counts "
                + $"{(counted - statuses).TotalSeconds:0} s, put together {(all - counted).TotalSeconds:0} s; "
                + $"{now:N0} rows of what is known now, {changed:N0} of what changed; {counts:N0} of statuses"));
    }

    private static async Task<long> ScalarAsync(NpgsqlDataSource source, string sql)
    {
        await using var command = source.CreateCommand(sql);
        return (long)(await command.ExecuteScalarAsync())!;
    }

    private static async Task ExecuteAsync(NpgsqlDataSource source, string sql)
    {
        await using var command = source.CreateCommand(sql);
        await command.ExecuteNonQueryAsync();
    }
}
