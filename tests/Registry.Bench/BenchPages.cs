using System.Diagnostics;
using System.Globalization;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Infants.Counting;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Rules;
using Registry.SiteQuality;

namespace Registry.Bench;

/// <summary>
/// What the pages of sites and the overview cost beside the bare statements that sum their counts, in regions of several sizes: each page
/// as it is served, and the statements on the program's own connections, in turn, in one process. Last line: <c>ratio:</c> the largest of
/// page to statement, and of the largest region to the smallest.
/// </summary>
internal static class BenchPages
{
    private const int Rounds = 40, Sites = 24, SitesOfACounty = 10;

    /// <summary>A method is compiled in full once it was called thirty times; a program that serves all day is measured, not one that
    /// begins.</summary>
    private const int WarmUp = 60;

    private static readonly DateOnly Today = new(2026, 11, 25);

    /// <param name="sizes">Births of each region, the smallest first.</param>
    public static async Task<int> RunAsync(int[] sizes)
    {
        await using var bench = await BenchServer.StartAsync();
        List<Region> regions = [];
        foreach (var births in sizes)
        {
            var database = await bench.CreateAsync($"bench_pages_{births}");
            await SeedAsync(database, births);
            regions.Add(await Region.StartAsync(births, database));
        }

        var worst = 0.0;
        foreach (var page in Pages)
        {
            var medians = await MeasureAsync(regions, page);
            var line = new StringBuilder($"{page.Path,-24}");
            foreach (var (region, (served, bare)) in regions.Zip(medians))
            {
                line.Append(CultureInfo.InvariantCulture,
                    $" {region.Births:N0}: {served,5:0.0} ms / {bare,5:0.0} ms = {served / bare:0.00};");
                worst = Math.Max(worst, served / bare);
            }

            var larger = medians[^1].Served / medians[0].Served;
            worst = Math.Max(worst, larger);
            Console.WriteLine(line.Append(CultureInfo.InvariantCulture, $" largest to smallest {larger:0.00}"));
        }

        foreach (var region in regions) await region.DisposeAsync();
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {worst:0.00}"));
        return 0;
    }

    private const string ByDay = "day";

    private static readonly (ScreenGrouping Grouping, string? Day)[]
        OfRegion = [(ScreenGrouping.Site, null), (ScreenGrouping.Arrival, null)],
        OfSite =
        [
            (ScreenGrouping.Instrument, null), (ScreenGrouping.Probe, null), (ScreenGrouping.Screener, null), (ScreenGrouping.Method, null),
            (ScreenGrouping.Age, null), (ScreenGrouping.Hour, null), (ScreenGrouping.Site, ByDay), (ScreenGrouping.Received, ByDay),
        ];

    private static readonly StatusFigure[] Milestones = [StatusFigure.Screened, StatusFigure.Diagnosed, StatusFigure.Enrolled],
        Attention = [StatusFigure.Due, StatusFigure.LostHow], Births = [StatusFigure.Screened, StatusFigure.Diagnosed, StatusFigure.LostAt];

    /// <summary>Each page, what it must say to be the page, and the counts it shows: of the region's units, and of one site's.</summary>
    private static readonly Page[] Pages =
    [
        new("/sites?by=site", "Bench 0", OfRegion, [], [Births]),
        new("/sites?by=instrument", "Bench 0", [(ScreenGrouping.Instrument, null)], [], []),
        new("/sites/bench-0", "Week by week", OfRegion, OfSite, [Births]),
        new("/sites/bench-0/report", "Infants missed", OfRegion, OfSite, [Births]),
        new("/", "Needs attention", [], [], [Milestones, Attention]),
    ];

    private sealed record Page(
        string Path, string Says, (ScreenGrouping Grouping, string? Day)[] Region, (ScreenGrouping Grouping, string? Day)[] Site,
        StatusFigure[][] Statuses);

    /// <summary>Of each region the median of the page, and of its statements: in turn, so that what else the machine does meets
    /// all.</summary>
    private static async Task<IReadOnlyList<(double Served, double Bare)>> MeasureAsync(List<Region> regions, Page page)
    {
        var times = regions.Select(_ => (Served: new List<double>(), Bare: new List<double>())).ToList();
        for (var i = -WarmUp; i < Rounds; i++)
        {
            foreach (var (region, (served, bare)) in regions.Zip(times))
            {
                var (one, other) = (await TimeAsync(() => region.ServeAsync(page)), await TimeAsync(() => region.SumAsync(page)));
                if (i < 0) continue;
                served.Add(one);
                bare.Add(other);
            }
        }

        return [.. times.Select(t => (t.Served.Order().ElementAt(Rounds / 2), t.Bare.Order().ElementAt(Rounds / 2)))];
    }

    /// <summary>A region and the program that serves it.</summary>
    private sealed class Region(
        int births, ProgramOnLoopback program, HttpClient person, SiteId site, ScreensAsked asked, StatusesAsOf today) : IAsyncDisposable
    {
        public int Births => births;

        public static async Task<Region> StartAsync(int births, string owner)
        {
            var program = new ProgramOnLoopback(owner);
            program.StartServer();
            await using var source = NpgsqlDataSource.Create(owner);
            await using var command = source.CreateCommand("select id from sites where code = 'bench-0'");
            return new(births, program, await program.PersonClientAsync(Role.Coordinator, null),
                new((Guid)(await command.ExecuteScalarAsync())!),
                await program.Services.GetRequiredService<AskScreens>().AsOfAsync(
                    new(Today.AddYears(-1).AddDays(1), Today), CountedDay.Test, null, Today, CancellationToken.None),
                await program.Services.GetRequiredService<StatusSource>().AsOfAsync(Today, CancellationToken.None));
        }

        public async Task ServeAsync(Page page)
        {
            var served = await person.GetStringAsync(page.Path);
            if (!served.Contains(page.Says, StringComparison.Ordinal))
                throw new InvalidOperationException($"{page.Path} is not what is served: {served[..Math.Min(served.Length, 2_000)]}");
        }

        public async Task SumAsync(Page page)
        {
            var count = program.Services.GetRequiredService<CountScreens>();
            var statuses = program.Services.GetRequiredService<ReadStatusCounts>();
            foreach (var (grouping, _) in page.Region) await ReadAsync(count.Command(grouping, asked));
            foreach (var (grouping, day) in page.Site)
                await ReadAsync(day is null ? count.Command(grouping, asked with { Site = site })
                    : count.Command(grouping, asked with { Site = site }, day));
            foreach (var figures in page.Statuses)
                await ReadAsync(statuses.Command(today, figures, figures == Attention ? (null, null) : (asked.Period.From, asked.Period.To),
                    null, figures == BenchPages.Births ? "site_id" : "date_trunc('month', born_on)::date"));
        }

        public async ValueTask DisposeAsync()
        {
            person.Dispose();
            await program.DisposeAsync();
        }
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

    /// <summary>A year of births at some hospitals, ten of a county, each with two instruments, four probes and six screeners; a test of
    /// each ear at twelve to forty-eight hours, one in twenty-five repeated, and what is derived from it by the program itself. Each
    /// mother has two, and each telephone reaches two families.</summary>
    /// <param name="owner">An empty database.</param>
    /// <param name="births">How many.</param>
    /// <param name="sites">At how many hospitals.</param>
    /// <param name="tests">Whether tests are counted too: only pages of sites need it.</param>
    public static async Task SeedAsync(string owner, int births, int sites = Sites, bool tests = true)
    {
        var clock = Stopwatch.StartNew();
        const string id = "('01900000-0000-7000-8000-' || lpad(to_hex(n), 12, '0'))::uuid";
        var born = $"(date '2025-11-26' + ((n::bigint * 364) / {births})::int)";
        var sent = $"({born} + 1 + n % 3 + time '20:00') at time zone 'UTC'";
        var fact = "gen_random_uuid(), " + id + ", s.id, least(" + sent + ", timestamptz '2026-11-25 11:00Z')";
        var from = $"from generate_series(0, {births - 1}) n join sites s on s.code = 'bench-' || n % {sites}";
        var unit = $"'I' || n / {sites} % 2, 'P' || n / {sites} % 4, 'S' || n / {sites} % 6";
        await using var source = NpgsqlDataSource.Create(owner + ";Pooling=false;Command Timeout=0");
        const string test = "insert into screenings (id, infant_id, site_id, recorded_at, ear, method, outcome, reason, stage, "
            + "performed_at, instrument, probe, screener) select ";
        foreach (var sql in new[]
        {
            "insert into sites (id, code, name, county, kind, has_nicu, active) select gen_random_uuid(), 'bench-' || i, 'Bench ' || i, "
                + $"'Lind ' || i / {SitesOfACounty}, 'hospital', false, true from generate_series(0, {sites - 1}) i",
            $"insert into infants (id, created_at) select {id}, now() {from}",
            $"insert into births (id, infant_id, site_id, recorded_at, born_on, born_at, place, sex, gestation_weeks, discharged_on, "
                + "mother_family_key, mother_given_key, mother_born_on, contact_phone_key, email_consent) select "
                + $"{fact}, {born}, time '06:00' + n % 720 * interval '1 minute', 'hospital', 'female', 34 + n % 8, {born} + 3, "
                + "'FAMILY' || n / 2, 'GIVEN' || n / 2 % 499, date '1984-01-01' + ((n / 2)::bigint * 7919 % 7000)::int, 'PHONE' || n / 4, "
                + $"true {from}",
            test + $"{fact}, ear, case n % 2 when 0 then 'aabr' else 'teoae' end, case when (n * 7 + length(ear)) % 17 = 0 then 'refer' "
                + $"else 'pass' end, 'none', 'birth_admission', {born} + interval '20 hours' + n % 1600 * interval '1 minute', "
                + $"{unit} {from} cross join unnest(array['right', 'left']) ear",
            test + $"{fact}, 'left', 'teoae', 'no_valid_result', case n % 2 when 0 then 'no_seal' else 'noise' end, 'birth_admission', "
                + $"{born} + interval '19 hours' + n % 1600 * interval '1 minute', {unit} {from} where n % 25 = 0",
            "vacuum (analyze)",
        })
            await ExecuteAsync(source, sql);
        var seeded = clock.Elapsed;
        await RecomputeStatuses.ForAllAsync(source, Today, Policy.Default, CancellationToken.None);
        var statuses = clock.Elapsed;
        if (tests) await CountScreening.ForAllAsync(source, Today, Policy.Default, CancellationToken.None);
        var counted = clock.Elapsed;
        await using (var connection = await source.OpenConnectionAsync())
        await using (var transaction = await connection.BeginTransactionAsync())
        {
            if (tests) await FoldCounts.AllAsync(connection, CancellationToken.None);
            await CountStatuses.RunAsync(connection, Today, CancellationToken.None);
            await CountWork.FoldAsync(connection, CancellationToken.None);
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
