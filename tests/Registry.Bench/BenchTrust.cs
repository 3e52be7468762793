using System.Diagnostics;
using System.Globalization;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Logging.Abstractions;
using Npgsql;
using Registry.Access;
using Registry.FollowUp;
using Registry.Infants.List;
using Registry.Infants.Record;
using Registry.Infants.Statuses;
using Registry.Intake.Applying;
using Registry.Intake.Receiving;
using Registry.Platform.Database;
using Registry.Records;
using Registry.Rules;
using Registry.Tests.Intake;

namespace Registry.Bench;

/// <summary>
/// What trust costs: the follow-up list and a record, read by the program's own code through the reader (row security) and through the
/// writer (none), and with the trail written and not, in regions of two sizes; and intake into a database with row security and one
/// without. The two are measured in turn, and each pair's medians are compared. Then what it withstands: a table of attacks. Last line:
/// <c>ratio:</c> the largest.
/// </summary>
internal static class BenchTrust
{
    private const int Rounds = 200;
    private static readonly DateOnly Today = new(2026, 11, 25);
    private static readonly DateTimeOffset Now = new(2026, 11, 25, 12, 0, 0, TimeSpan.Zero);

    public static async Task<int> RunAsync(int infants, bool attack = true)
    {
        await using var bench = await BenchServer.StartAsync();
        var worst = 0.0;
        foreach (var size in new[] { infants, infants * 10 })
        {
            var database = await bench.CreateAsync($"bench_trust_{size}");
            await SeedAsync(database, size);
            await LetWriterReadAsync(database);
            worst = Math.Max(worst, await ReadsAsync(database, size));
            if (size == infants) await BenchTrustAttacks.DatabaseAsync(DatabaseLogins.Beside(database), await SiteOfAsync(database));
        }

        worst = Math.Max(worst, await IntakeAsync(bench));
        if (attack) await BenchTrustAttacks.DoorsAsync();
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {worst:0.00}"));
        return 0;
    }

    /// <summary>The writer in the reader's place: in roles like its, which pass row security.</summary>
    private static async Task LetWriterReadAsync(string owner)
    {
        var writer = new NpgsqlConnectionStringBuilder(DatabaseLogins.Beside(owner).Writer);
        await using var source = NpgsqlDataSource.Create(owner + ";Pooling=false");
        foreach (var role in Enum.GetValues<ReaderView>().Select(view => GrantRights.Role(writer, view)))
        {
            await ExecuteAsync(source, $"""
                do $$ begin
                  if not exists (select from pg_roles where rolname = '{role}') then
                    create role "{role}" nologin bypassrls;
                    grant "{role}" to "{writer.Username}" with inherit false, set true;
                  end if;
                end $$;
                grant usage on schema public to "{role}";
                grant select on all tables in schema public to "{role}"
                """);
        }
    }

    private static async Task<double> ReadsAsync(string owner, int size)
    {
        var logins = DatabaseLogins.Beside(owner);
        await using var secured = new ViewerDatabase(logins);
        await using var open = new ViewerDatabase(logins with { Reader = logins.Writer });
        await using var writer = NpgsqlDataSource.Create(logins.Writer);
        var trail = new AppendToTrail(writer, TimeProvider.System, NullLogger<AppendToTrail>.Instance);
        var (site, mine) = await SiteAsync(writer);
        var statuses = new StatusesAsOf("infant_status", Today, DateTimeOffset.UtcNow, Policy.Default.Version); // what was seeded is known
        var worst = 0.0;
        await using var program = new ProgramOnLoopback(owner);
        program.StartServer();
        foreach (var viewer in new[]
        {
            new Viewer(Guid.CreateVersion7(), null, Role.Coordinator, null, "coordinator"),
            new Viewer(Guid.CreateVersion7(), null, Role.SiteManager, site, "site manager"),
        })
        {
            var who = string.Create(CultureInfo.InvariantCulture, $"{size:N0} infants, {viewer.Name}");
            var filter = new InfantFilter { Due = DueWindow.Any };
            var n = 0;
            Task<int> WorkAsync(ViewerDatabase data, AppendToTrail? to) => FollowUpAsync(data, viewer, to);
            Task<int> ListAsync(ViewerDatabase data) => InfantsAsync(data, statuses, filter, viewer);
            Task<int> RecordAsync(ViewerDatabase data, AppendToTrail? to) => OneAsync(data, statuses, viewer, mine[n++ % mine.Count], to);
            worst = new[]
            {
                worst,
                await CompareAsync($"{who}, follow-up list, row security", () => WorkAsync(open, null), () => WorkAsync(secured, null)),
                await CompareAsync($"{who}, list of infants, row security", () => ListAsync(open), () => ListAsync(secured)),
                await CompareAsync($"{who}, record, row security", () => RecordAsync(open, null), () => RecordAsync(secured, null)),
            }.Max();
            // An entry costs a commit, whatever is read: what it adds to the read, and so to the page somebody waits for.
            using var person = await program.PersonClientAsync(viewer.Role!.Value, viewer.SiteId);
            worst = new[]
            {
                worst,
                await OfPageAsync($"{who}, page of the follow-up list, trail", () => person.GetStringAsync("/follow-up"),
                    () => WorkAsync(secured, null), () => WorkAsync(secured, trail)),
                await OfPageAsync($"{who}, page of a record, trail", () => person.GetStringAsync($"/infants/{mine[n++ % mine.Count]}"),
                    () => RecordAsync(secured, null), () => RecordAsync(secured, trail)),
            }.Max();
        }

        return worst;
    }

    private static AccessRecord Entry(Guid[] infants) => new()
    {
        Kind = AccessKind.Read,
        Action = "GET /follow-up",
        PersonId = Guid.CreateVersion7(),
        InfantCount = infants.Length,
        Infants = infants,
        Address = "127.0.0.1",
    };

    /// <summary>What the page of the follow-up list does: how many there are, and the first of them, while the trail is written.</summary>
    private static async Task<int> FollowUpAsync(ViewerDatabase data, Viewer viewer, AppendToTrail? trail)
    {
        var (list, filter) = (new ListWork(data), new WorkFilter());
        await list.CountAsync(filter, viewer, CancellationToken.None);
        var (rows, _) = await list.PageAsync(filter, viewer, null, ListWork.PageSize, CancellationToken.None);
        if (trail is not null) await trail.AddAsync(Entry([.. rows.Select(r => r.Id.Value)]));
        return rows.Count > 0 ? rows.Count : throw new InvalidOperationException("Nobody is to be called.");
    }

    /// <summary>What the page of the list of infants does: the first of all that are due, and how many.</summary>
    private static async Task<int> InfantsAsync(ViewerDatabase data, StatusesAsOf statuses, InfantFilter filter, Viewer viewer)
    {
        var list = new ListInfants(data);
        var (rows, _) = await list.PageAsync(statuses, filter, viewer, "due", null, CancellationToken.None);
        await list.CountAsync(statuses, filter, viewer, new InfantsOptions().CountedTo + 1, CancellationToken.None);
        return rows.Count;
    }

    /// <summary>What the page of a record does: whether it may be seen, its status, its facts, the sites, while the trail is
    /// written.</summary>
    private static async Task<int> OneAsync(
        ViewerDatabase data, StatusesAsOf statuses, Viewer viewer, InfantId infant, AppendToTrail? trail)
    {
        await using var db = await data.OpenDbAsync(viewer, CancellationToken.None);
        if (!await db.VisibleInfants(viewer).AnyAsync(i => i.Id == infant)) throw new InvalidOperationException("It is not seen.");
        var recorded = trail?.AddAsync(Entry([infant.Value])) ?? Task.CompletedTask;
        await db.InfantStatuses.AsNoTracking().SingleAsync(s => s.InfantId == infant);
        var (facts, _) = await TimeLine.ReadAsync(db, infant, statuses.KnownAt, [], CancellationToken.None);
        await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id);
        await recorded;
        return facts.Count > 0 ? facts.Count : throw new InvalidOperationException("Nothing was read.");
    }

    private static async Task<double> CompareAsync(string what, Func<Task> without, Func<Task> with)
    {
        var medians = await MediansAsync(without, with);
        return Say(what, medians[0], medians[1]);
    }

    /// <summary>A page as it is served, and what a part of it adds to the read beneath it: without that part the page takes so much
    /// less.</summary>
    private static async Task<double> OfPageAsync(string what, Func<Task> page, Func<Task> without, Func<Task> with)
    {
        var medians = await MediansAsync(page, without, with);
        Say($"  {what}, beneath it", medians[1], medians[2]);
        return Say(what, medians[0] - (medians[2] - medians[1]), medians[0]);
    }

    private static double Say(string what, double least, double most)
    {
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture, $"{what,-65} {least,8:0.00} ms {most,8:0.00} ms  {most / least:0.00}"));
        return most / least;
    }

    /// <summary>Medians of many rounds, in turn, so that what else the machine does meets all alike.</summary>
    private static async Task<double[]> MediansAsync(params Func<Task>[] work)
    {
        var times = Array.ConvertAll(work, _ => new List<double>());
        for (var i = -20; i < Rounds; i++)
        {
            for (var w = 0; w < work.Length; w++)
            {
                var took = await TimeAsync(work[w]);
                if (i >= 0) times[w].Add(took); // before that code, pools and plans are not warm
            }
        }

        return Array.ConvertAll(times, t => t.Order().ElementAt(Rounds / 2));
    }

    private static async Task<double> TimeAsync(Func<Task> work)
    {
        var clock = Stopwatch.StartNew();
        await work();
        return clock.Elapsed.TotalMilliseconds;
    }

    /// <summary>The same file into both, in turn.</summary>
    private static async Task<double> IntakeAsync(BenchServer bench)
    {
        const int rows = 20_000;
        var (with, without) = (new List<double>(), new List<double>());
        for (var i = 0; i < 4; i++)
        {
            var secured = await bench.CreateAsync($"bench_intake_secured_{i}");
            var open = await bench.CreateAsync($"bench_intake_open_{i}");
            await using (var source = NpgsqlDataSource.Create(open + ";Pooling=false"))
            {
                foreach (var table in TableRights.All.Where(t => t.IsRowSecured))
                    await ExecuteAsync(source, $"alter table \"{table.Table}\" disable row level security");
                await ExecuteAsync(source, WithoutWhoSeesWhomSql);
            }

            without.Add(await OneIntakeAsync(open, rows));
            with.Add(await OneIntakeAsync(DatabaseLogins.Beside(secured).Writer, rows));
        }

        var (least, most) = (without.Skip(1).Order().ElementAt(1), with.Skip(1).Order().ElementAt(1));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"{$"intake of {rows:N0} rows, row security and who sees whom",-55} {least,8:0} ms {most,8:0} ms  {most / least:0.00}"));
        return most / least;
    }

    /// <summary>Takes the triggers away that keep who sees whom: they are a part of what row security costs.</summary>
    private const string WithoutWhoSeesWhomSql =
        """
        do $$
        declare t record;
        begin
          for t in select tgname, tgrelid::regclass as on_table from pg_trigger
                    where tgfoid::regproc::text like 'keep_infant_sites_by_%' loop
            execute format('drop trigger %I on %s', t.tgname, t.on_table);
          end loop;
        end $$
        """;

    private static async Task<double> OneIntakeAsync(string connectionString, int rows)
    {
        await using var services = BenchServer.Services(connectionString);
        var site = await BenchServer.AddSiteAsync(services);

        return await TimeAsync(async () =>
        {
            await using var file = new GeneratedLines(BenchIntake.Header, rows, BenchIntake.Line);
            var receipt = await services.GetRequiredService<ReceiveSubmission>()
                .ReceiveAsync(site, SubmissionFormat.Csv, null, file, default, Now);
            await services.GetRequiredService<ProcessSubmission>().RunAsync(receipt.Id.Value, CancellationToken.None);
        });
    }

    private static async Task<SiteId> SiteOfAsync(string owner)
    {
        await using var source = NpgsqlDataSource.Create(owner + ";Pooling=false");
        return (await SiteAsync(source)).Site;
    }

    private static async Task<(SiteId Site, List<InfantId> Infants)> SiteAsync(NpgsqlDataSource source)
    {
        await using var command = source.CreateCommand(
            "select site_id, infant_id from births where site_id = (select min(id::text)::uuid from sites) limit 500");
        await using var reader = await command.ExecuteReaderAsync();
        var (site, infants) = (default(SiteId), new List<InfantId>());
        while (await reader.ReadAsync())
        {
            site = new(reader.GetGuid(0));
            infants.Add(new(reader.GetGuid(1)));
        }

        return (site, infants);
    }

    /// <summary>Infants of two years at ten sites: a birth, a record number and two tests each, one in thirty a refer, some
    /// contacts.</summary>
    private static async Task SeedAsync(string owner, int infants)
    {
        const string id = "('01900000-0000-7000-8000-' || lpad(to_hex(n), 12, '0'))::uuid";
        var born = $"(date '2024-11-26' + ((n::bigint * 729) / {infants})::int)";
        const string fact = "gen_random_uuid(), " + id + ", s.id, now()";
        var from = $"from generate_series(0, {infants - 1}) n join sites s on s.code = 'bench-' || n % 10";
        await using var source = NpgsqlDataSource.Create(owner + ";Pooling=false");
        foreach (var sql in new[]
        {
            "insert into sites (id, code, name, county, kind, has_nicu, active) select gen_random_uuid(), 'bench-' || i, 'Bench ' || i, "
                + "'Lind', 'hospital', false, true from generate_series(0, 9) i",
            $"insert into infants (id, created_at) select {id}, now() {from}",
            $"insert into infant_identifiers (id, infant_id, site_id, recorded_at, kind, value) select {fact}, 'record_number', "
                + $"'R' || n {from}",
            $"insert into births (id, infant_id, site_id, recorded_at, born_on, place, sex, mother_family_key, email_consent) select "
                + $"{fact}, {born}, 'hospital', 'female', 'FAMILY' || n, true {from}",
            "insert into screenings (id, infant_id, site_id, recorded_at, ear, method, outcome, reason, stage, performed_at) select "
                + $"{fact}, ear, 'aabr', case when ear = 'left' and n / 10 % 30 = 0 then 'refer' else 'pass' end, 'none', 'birth_admission', "
                + $"{born} + interval '30 hours' {from} cross join unnest(array['right', 'left']) ear",
            $"insert into contacts (id, infant_id, site_id, recorded_at, step, attempted_on, outcome) select {fact}, 'screening', "
                + $"{born} + 20, 'no_response' {from} where n / 10 % 30 = 0",
        })
            await ExecuteAsync(source, sql);
        await RecomputeStatuses.ForAllAsync(source, Today, Policy.Default, CancellationToken.None);
        await ExecuteAsync(source, "vacuum (analyze)");
    }

    private static async Task ExecuteAsync(NpgsqlDataSource source, string sql)
    {
        await using var command = source.CreateCommand(sql);
        command.CommandTimeout = 3600;
        await command.ExecuteNonQueryAsync();
    }
}
