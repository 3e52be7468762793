using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Infants.Counting;
using Registry.Intake.Applying;
using Registry.Intake.Receiving;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Bench;

/// <summary>
/// A CSV file of births and screens, received, checked, matched, committed, statuses computed; beside raw binary COPY of the
/// same final rows into the same indexed tables of a second database on the same server, fsync on.
/// Last line: <c>ratio: raw seconds / intake seconds</c>.
/// </summary>
internal static class BenchIntake
{
    private static readonly string[] Tables =
        ["submissions", "submission_chunks", "submission_rows", "infants", "infant_identifiers", "births", "screenings", "infant_status"];

    public static async Task<int> RunAsync(int rows)
    {
        await using var bench = await BenchServer.StartAsync();
        var intake = await IntakeAsync(await bench.CreateAsync("bench_intake"), rows);
        var raw = await CopyAsync(await bench.CreateAsync("bench_copy"), bench.Connection("bench_intake"));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {raw.TotalSeconds / intake.TotalSeconds:0.000}"));
        return 0;
    }

    private static async Task<TimeSpan> IntakeAsync(string connectionString, int rows)
    {
        await using var services = BenchServer.Services(connectionString);
        var site = await BenchServer.AddSiteAsync(services);

        var (receive, process) = (services.GetRequiredService<ReceiveSubmission>(), services.GetRequiredService<ProcessSubmission>());
        using var self = Process.GetCurrentProcess();
        var (start, peak) = (self.WorkingSet64, 0L);
        using var timer = new Timer(_ =>
        {
            using var now = Process.GetCurrentProcess();
            peak = Math.Max(peak, now.WorkingSet64);
        }, null, 0, 50);
        var clock = Stopwatch.StartNew();
        await using var file = new GeneratedLines(Header, rows, Line);
        var receipt = await receive.ReceiveAsync(site, SubmissionFormat.Csv, null, file, default,
            new DateTimeOffset(2026, 11, 25, 12, 0, 0, TimeSpan.Zero));
        var received = clock.Elapsed;
        await process.RunAsync(receipt.Id.Value, CancellationToken.None);
        var elapsed = clock.Elapsed;
        await using var source = NpgsqlDataSource.Create(connectionString);
        await using var outcome = source.CreateCommand("select concat_ws(' ', state, accepted, 'of', row_count) from submissions");
        var said = await outcome.ExecuteScalarAsync();
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"intake: {said} rows, received {received.TotalSeconds:0.00} s, all {elapsed.TotalSeconds:0.00} s, "
                + $"{rows / elapsed.TotalSeconds:0} rows/s, resident +{(peak - start) >> 20} MiB at peak"));
        await FoldAsync(source);
        return elapsed;
    }

    /// <summary>What the worker adds to the sums within the next minutes.</summary>
    private static async Task FoldAsync(NpgsqlDataSource source)
    {
        var clock = Stopwatch.StartNew();
        await using var connection = await source.OpenConnectionAsync();
        await using var transaction = await connection.BeginTransactionAsync();
        await FoldCounts.AllAsync(connection, CancellationToken.None);
        await transaction.CommitAsync();
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"counts added to the sums in {clock.Elapsed.TotalSeconds:0.00} s"));
    }

    private static async Task<TimeSpan> CopyAsync(string to, string from)
    {
        await using var source = NpgsqlDataSource.Create(from);
        await using var target = NpgsqlDataSource.Create(to);
        await using (var sites = target.CreateCommand(
            "insert into sites (id, code, name, county, kind, has_nicu, active) values ($1, 'bench', 'Bench Hospital', 'Lind', "
            + "'hospital', false, true)"))
        await using (var site = source.CreateCommand("select id from sites"))
        {
            sites.Parameters.AddWithValue((Guid)(await site.ExecuteScalarAsync())!);
            await sites.ExecuteNonQueryAsync();
        }

        var total = TimeSpan.Zero;
        await using var reading = await source.OpenConnectionAsync();
        await using var writing = await target.OpenConnectionAsync();
        foreach (var table in Tables)
        {
            var rows = new MemoryStream();
            await using (var export = await reading.BeginRawBinaryCopyAsync(
                $"copy {table} to stdout (format binary)")) await export.CopyToAsync(rows);
            rows.Position = 0;
            var clock = Stopwatch.StartNew();
            await using (var import = await writing.BeginRawBinaryCopyAsync(
                $"copy {table} from stdin (format binary)")) await rows.CopyToAsync(import);
            total += clock.Elapsed;
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"copy {table}: {rows.Length >> 20} MiB in {clock.Elapsed.TotalSeconds:0.00} s"));
        }

        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"copy: all {total.TotalSeconds:0.00} s"));
        return total;
    }

    internal const string Header = "kind,record_number,card_id,birth_date,sex,birth_order,mother_given_name,mother_family_name,"
        + "mother_birth_date,birth_time,plurality,gestation_weeks,birth_weight_g,infant_family_name,county,language,"
        + "ear,outcome,method,performed_at,instrument,probe,screener";

    /// <summary>Two years of births, each followed by one test.</summary>
    internal static string Line(int row)
    {
        var n = row / 2;
        var born = new DateOnly(2024, 11, 1).AddDays(n % 730);
        var mother = new DateOnly(1985, 1, 1).AddDays(n * 7 % 7_300);
        return row % 2 == 0
            ? string.Create(CultureInfo.InvariantCulture,
                $"birth,R{n},C{n},{born:yyyy-MM-dd},{(n % 2 == 0 ? "female" : "male")},,"
                + $"Given{n % 211},Family{n % 9_973},{mother:yyyy-MM-dd},"
                + $"07:{n % 60:00},1,39,{2500 + (n % 1500)},Family{n % 9_973},Lind,en,,,,,,,")
            : string.Create(CultureInfo.InvariantCulture,
                $"screening,R{n},,,,,,,,,,,,,,,{(n % 2 == 0 ? "right" : "left")},{(n % 20 == 0 ? "refer" : "pass")},aabr,"
                + $"{born.AddDays(1):yyyy-MM-dd}T10:{n % 60:00},UNIT-{n % 4},P{n % 7},SC{n % 11}");
    }
}
