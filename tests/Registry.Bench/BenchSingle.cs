using System.Diagnostics;
using System.Globalization;
using System.Text;
using System.Text.RegularExpressions;
using Npgsql;
using Registry.Infants.Statuses;
using Registry.Rules;

namespace Registry.Bench;

/// <summary>
/// One screening result per POST from 32 clients over loopback, each answered when it is committed; beside pgbench with 32 clients, whose
/// transaction makes the same inserts into the same tables of a second database on the same server, fsync on.
/// Last line: <c>ratio: POSTs a second / pgbench transactions a second</c>.
/// </summary>
internal static class BenchSingle
{
    private const int Clients = 32;
    private const int Infants = 20_000;

    public static async Task<int> RunAsync(int seconds)
    {
        await using var bench = await BenchServer.StartAsync();
        var posts = await PostsAsync(await bench.CreateAsync("bench_single"), seconds);
        var limit = await PgbenchAsync(bench, seconds);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {posts / limit:0.000}"));
        return 0;
    }

    private static async Task<double> PostsAsync(string database, int seconds)
    {
        await using var program = new ProgramOnLoopback(database);
        using var http = await program.SiteClientAsync(Clients);
        await SeedAsync(database);
        var next = -1;
        // code, pools and plans are warm
        await SendAsync(http, () => Interlocked.Increment(ref next), TimeSpan.FromSeconds(Math.Max(2, seconds / 5)));
        var clock = Stopwatch.StartNew();
        var (allocated, collected) = (GC.GetTotalAllocatedBytes(), GC.CollectionCount(2));
        var sent = await SendAsync(http, () => Interlocked.Increment(ref next), TimeSpan.FromSeconds(seconds));
        var rate = sent / clock.Elapsed.TotalSeconds;
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"POST: {(GC.GetTotalAllocatedBytes() - allocated) / 1024.0 / sent:N0} KiB allocated each, client and program together; "
                + $"{GC.CollectionCount(2) - collected} full collections"));
        await using var source = NpgsqlDataSource.Create(database);
        await using var count = source.CreateCommand("select count(*) from screenings");
        var recorded = await count.ExecuteScalarAsync();
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture, $"POST: {sent:N0} results, {rate:N0}/s; {recorded:N0} tests recorded of {next + 1:N0} sent"));
        return rate;
    }

    private static async Task<int> SendAsync(HttpClient http, Func<int> next, TimeSpan time)
    {
        var clock = Stopwatch.StartNew();
        var sent = 0;
        await Task.WhenAll(Enumerable.Range(0, Clients).Select(async _ =>
        {
            while (clock.Elapsed < time)
            {
                var n = next();
                var (infant, test) = (n % Infants, n / Infants);
                var row = string.Create(CultureInfo.InvariantCulture,
                    $$"""{"kind":"screening","record_number":"R{{infant}}","ear":"{{(test % 2 == 0 ? "right" : "left")}}","""
                    + $$""" "outcome":"pass","method":"aabr","performed_at":"2026-11-{{2 + (test / 2):00}}T10:00","""
                    + $$""" "instrument":"UNIT-{{n % 4}}","probe":"P{{n % 7}}","screener":"SC{{n % 11}}"}""");
                using var body = new StringContent($$"""{"rows":[{{row}}]}""", Encoding.UTF8, "application/json");
                using var answer = await http.PostAsync("/api/v1/submissions", body);
                var text = await answer.Content.ReadAsStringAsync();
                if (!answer.IsSuccessStatusCode || !text.Contains("\"accepted\":1", StringComparison.Ordinal))
                    throw new InvalidOperationException(text);
                Interlocked.Increment(ref sent);
            }
        }));
        return sent;
    }

    /// <summary>Infants to be tested: known by record number, with a birth and a status.</summary>
    private static async Task SeedAsync(string database)
    {
        const string id = "('01900000-0000-7000-8000-' || lpad(to_hex(n), 12, '0'))::uuid";
        await using var source = NpgsqlDataSource.Create(database);
        var from = $"from sites s, generate_series(0, {Infants - 1}) n";
        foreach (var sql in new[]
        {
            $"insert into infants (id, created_at) select {id}, now() {from}",
            $"insert into infant_identifiers (id, infant_id, site_id, recorded_at, kind, value) select gen_random_uuid(), {id}, s.id, "
                + $"now(), 'record_number', 'R' || n {from}",
            $"insert into births (id, infant_id, site_id, recorded_at, born_on, place, sex, mother_family_key, email_consent) select "
                + $"gen_random_uuid(), {id}, s.id, now(), date '2026-11-01', 'hospital', 'female', 'FAMILY' || n, true {from}",
            "vacuum (analyze)",
        })
        {
            await using var command = source.CreateCommand(sql);
            await command.ExecuteNonQueryAsync();
        }

        await RecomputeStatuses.ForAllAsync(source, new DateOnly(2026, 11, 25), Policy.Default, CancellationToken.None);
    }

    /// <summary>What one POST leaves behind, written by hand: the submission, its raw bytes, its row's outcome, the fact, the new
    /// status.</summary>
    private const string Script =
        """
        \set n random(0, 19999)
        begin;
        insert into submissions (id, site_id, format, state, received_at, sha256, byte_count, row_count, rows_done,
            accepted, unchanged, rejected, held, finished_at)
          select gen_random_uuid(), id, 'json', 'done', now(),
            '\x00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff', 180, 1, 1, 1, 0, 0, 0, now()
          from sites returning id as submission, site_id as site \gset
        insert into submission_chunks (submission_id, ordinal, bytes)
          values (':submission', 0, convert_to(rpad('{', 180, 'x'), 'UTF8'));
        insert into submission_rows (submission_id, row_number, line, kind, outcome, infant_id)
          values (':submission', 1, 1, 'screening', 'accepted', ('01900000-0000-7000-8000-' || lpad(to_hex(:n), 12, '0'))::uuid);
        insert into screenings (id, infant_id, site_id, recorded_at, submission_id, row_number,
            ear, method, outcome, reason, stage, performed_at, instrument, probe, screener)
          values (gen_random_uuid(), ('01900000-0000-7000-8000-' || lpad(to_hex(:n), 12, '0'))::uuid, ':site', now(), ':submission', 1,
            'right', 'aabr', 'pass', 'none', 'unstated', '2026-11-02 10:00', 'UNIT-1', 'P1', 'SC1');
        with old as (
            delete from infant_status where infant_id = ('01900000-0000-7000-8000-' || lpad(to_hex(:n), 12, '0'))::uuid returning *)
          insert into infant_status select * from old;
        commit;
        """;

    private static async Task<double> PgbenchAsync(BenchServer bench, int seconds)
    {
        var database = await bench.CreateAsync("bench_pgbench");
        await using (var source = NpgsqlDataSource.Create(database))
        {
            await using var site = source.CreateCommand(
                "insert into sites (id, code, name, county, kind, has_nicu, active) values (gen_random_uuid(), 'bench', 'Bench Hospital', "
                + "'Lind', 'hospital', false, true)");
            await site.ExecuteNonQueryAsync();
        }

        await SeedAsync(database);
        var script = Path.Combine(bench.Folder, "single.sql");
        await File.WriteAllTextAsync(script, Script);
        var parts = new NpgsqlConnectionStringBuilder(database);
        var start = new ProcessStartInfo("pgbench") { RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (var argument in new[] { "-n", "-f", script, "-c", $"{Clients}", "-j", "2", "-T", $"{seconds}", "-h", parts.Host!, "-p",
            $"{parts.Port}", "-U", parts.Username!, parts.Database! })
            start.ArgumentList.Add(argument);
        start.Environment["PGPASSWORD"] = parts.Password;
        using var process = Process.Start(start) ?? throw new InvalidOperationException("pgbench did not start.");
        var error = process.StandardError.ReadToEndAsync();
        var said = await process.StandardOutput.ReadToEndAsync();
        await process.WaitForExitAsync();
        if (process.ExitCode != 0) throw new InvalidOperationException($"pgbench: {await error}");
        var rate = double.Parse(Regex.Match(said, @"tps = ([0-9.]+)").Groups[1].Value, CultureInfo.InvariantCulture);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"pgbench: {rate:N0} transactions/s"));
        return rate;
    }
}
