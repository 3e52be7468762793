using System.Diagnostics;
using System.Globalization;
using Npgsql;
using Registry.Infants.Statuses;
using Registry.Rules;

namespace Registry.Bench;

/// <summary>
/// Every status recomputed and stored, and the nightly sweep alone; beside PostgreSQL's own time to read the facts
/// (<c>COPY (SELECT …) TO '/dev/null'</c>, binary) and to write as many rows into a table with the same indexes (COPY from a file), same
/// server, same run, fsync on. Last line: <c>ratio: recompute seconds / COPY seconds</c>.
/// </summary>
internal static class BenchRecompute
{
    private static readonly DateOnly Today = new(2026, 11, 25);

    // What the rules read (FactsForRules.sql).
    private static readonly (string Table, string Columns)[] Facts =
    [
        ("births", "infant_id, site_id, born_on, born_at, place, gestation_weeks, nicu_admitted_on, nicu_discharged_on, discharged_on"),
        ("screenings", "infant_id, ear, outcome, performed_at, method, reason, stage, site_id"),
        ("diagnoses", "infant_id, evaluated_on, right_finding, left_finding, right_degree, left_degree, provisional, permanent"),
        ("interventions", "infant_id, kind, happened_on"),
        ("deaths", "infant_id, died_on"),
        ("moves", "infant_id, kind, moved_on"),
        ("transfers", "infant_id, transferred_on, to_site_id"),
        ("refusals", "infant_id, step, refused_on, revoked_on"),
        ("risks", "infant_id, kind, noted_on"),
        ("contacts", "infant_id, step, attempted_on, outcome"),
        ("readmissions", "infant_id, admitted_on, discharged_on, raises_risk"),
        ("medical_delays", "infant_id, step, from_on, ended_on"),
    ];

    public static async Task<int> RunAsync(int infants)
    {
        await using var bench = await BenchServer.StartAsync();
        var database = await bench.CreateAsync("bench_recompute");
        await using var source = NpgsqlDataSource.Create(database);
        await InventAsync(source, infants);

        var (first, filled) = await TimeAsync(
            () => RecomputeStatuses.ForAllAsync(source, Today.AddDays(-1), Policy.Default, CancellationToken.None));
        Say("first fill", first, filled);
        await SettleAsync(source);
        var (sweep, swept) = await TimeAsync(
            () => RecomputeStatuses.ForCalendarAsync(source, Today, Policy.Default, CancellationToken.None));
        Say("nightly sweep", sweep, swept);
        await SettleAsync(source);
        var (full, all) = await TimeAsync(() => RecomputeStatuses.ForAllAsync(source, Today, Policy.Default, CancellationToken.None));
        Say("full recompute", full, all);

        await using var server = NpgsqlDataSource.Create(bench.SuperuserConnection("bench_recompute"));
        await SettleAsync(source);
        var read = TimeSpan.Zero;
        foreach (var (table, columns) in Facts)
            read += (await TimeAsync(
                () => ExecuteAsync(server,
                $"copy (select {columns} from {table} where superseded_at is null) to '/dev/null' (format binary)"))).Elapsed;
        Say("limit: COPY facts out", read, infants);
        var file = Path.Combine(bench.Folder, "pgdata", "bench.copy");
        await ExecuteAsync(server, $"copy infant_status to '{file}' (format binary)");
        await ExecuteAsync(server, "create table written (like infant_status including all)");
        var (write, _) = await TimeAsync(() => ExecuteAsync(server, $"copy written from '{file}' (format binary)"));
        Say("limit: COPY statuses in", write, infants);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"sweep / full recompute: {sweep / full:0.000}"));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {full / (read + write):0.00}"));
        return 0;
    }

    private static void Say(string what, TimeSpan elapsed, int infants) =>
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{what,-24} {elapsed.TotalSeconds,8:0.00} s, {infants:N0} infants, {infants / elapsed.TotalSeconds:N0}/s"));

    private static async Task<(TimeSpan Elapsed, int Count)> TimeAsync(Func<Task<int>> work)
    {
        var clock = Stopwatch.StartNew();
        var count = await work();
        return (clock.Elapsed, count);
    }

    private static async Task<int> ExecuteAsync(NpgsqlDataSource source, string sql)
    {
        await using var command = source.CreateCommand(sql);
        command.CommandTimeout = 3600;
        return await command.ExecuteNonQueryAsync();
    }

    /// <summary>What autovacuum and the checkpointer would have done meanwhile: each measurement starts from the same rest.</summary>
    private static async Task SettleAsync(NpgsqlDataSource source) => await ExecuteAsync(source, "vacuum (analyze) infant_status");

    /// <summary>Births of five years up to today, two tests each; one in thirty refers and goes the further way or is lost.</summary>
    private static async Task InventAsync(NpgsqlDataSource source, int infants)
    {
        var clock = Stopwatch.StartNew();
        const string id = "('01900000-0000-7000-8000-' || lpad(to_hex(n), 12, '0'))::uuid";
        const string born = "(date '2021-11-26' + ((n::bigint * 1826) / total)::int)";
        const string fact = "gen_random_uuid(), " + id + ", s.id, now()";
        string From(string where = "true") =>
            $"from sites s, (select n, {infants} as total from generate_series(0, {infants - 1}) n) as every where {where}";
        foreach (var sql in new[]
        {
            "insert into sites (id, code, name, county, kind, has_nicu, active) values (gen_random_uuid(), 'bench', 'Bench Hospital', "
                + "'Lind', 'hospital', true, true)",
            $"insert into infants (id, created_at) select {id}, now() {From()}",
            $"insert into births (id, infant_id, site_id, recorded_at, born_on, born_at, place, sex, plurality, gestation_weeks, "
                + $"discharged_on, nicu_admitted_on, nicu_discharged_on, mother_family_key, email_consent) select {fact}, {born}, time "
                + $"'06:00' + n % 720 * interval '1 minute', 'hospital', 'female', 1, 30 + n % 12, {born} + 2, case when n % 12 = 0 then "
                + $"{born} end, case when n % 12 = 0 then {born} + 8 end, 'family' || n, true {From()}",
            $"insert into screenings (id, infant_id, site_id, recorded_at, ear, method, outcome, reason, stage, performed_at) select "
                + $"{fact}, ear, 'aabr', case when ear = 'left' and n % 30 = 0 then 'refer' else 'pass' end, 'none', 'birth_admission', "
                + $"{born} + interval '30 hours' from sites s, (select n, {infants} as total from generate_series(0, {infants - 1}) n) as "
                + "every, unnest(array['right', 'left']) ear where n % 60 <> 7",
            $"insert into screenings (id, infant_id, site_id, recorded_at, ear, method, outcome, reason, stage, performed_at) select "
                + $"{fact}, ear, 'aabr', case when ear = 'left' and n % 60 = 0 then 'refer' else 'pass' end, 'none', "
                + $"'outpatient_rescreen', {born} + interval '20 days' from sites s, (select n, {infants} as total from "
                + $"generate_series(0, {infants - 1}) n) as every, unnest(array['right', 'left']) ear where n % 30 = 0 and {born} + 20 < "
                + "date '2026-11-25'",
            $"insert into diagnoses (id, infant_id, site_id, recorded_at, evaluated_on, right_finding, left_finding, right_degree, "
                + $"left_degree, provisional) select {fact}, {born} + 70, 'normal', case when n % 240 = 0 then 'sensorineural' else "
                + $"'normal' end, 'not_stated', 'not_stated', false {From($"n % 120 = 0 and {born} + 70 < date '2026-11-25'")}",
            $"insert into interventions (id, infant_id, site_id, recorded_at, kind, happened_on) select {fact}, 'enrolled', {born} + 150 "
                + $"{From($"n % 480 = 0 and {born} + 150 < date '2026-11-25'")}",
            $"insert into contacts (id, infant_id, site_id, recorded_at, step, attempted_on, outcome) select {fact}, 'diagnosis', {born} "
                + $"+ 100, 'no_response' {From($"n % 120 = 60 and {born} + 100 < date '2026-11-25'")}",
            $"insert into risks (id, infant_id, site_id, recorded_at, kind, noted_on) select {fact}, case when n % 260 = 0 then "
                + $"'congenital_cmv' else 'family_history' end, {born} {From("n % 20 = 0")}",
            $"insert into deaths (id, infant_id, site_id, recorded_at, died_on) select {fact}, {born} + 3 "
                + $"{From($"n % 300 = 11 and {born} + 3 < date '2026-11-25'")}",
            $"insert into moves (id, infant_id, site_id, recorded_at, kind, moved_on) select {fact}, 'out_of_region', {born} + 60 "
                + $"{From($"n % 200 = 12 and {born} + 60 < date '2026-11-25'")}",
            "vacuum (analyze)",
        })
            await ExecuteAsync(source, sql);
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture, $"invented {infants:N0} infants in {clock.Elapsed.TotalSeconds:0} s"));
    }
}
