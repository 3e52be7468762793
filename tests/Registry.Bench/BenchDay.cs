using System.Diagnostics;
using System.Globalization;
using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.FollowUp;
using Registry.Infants.List;
using Registry.Infants.Record;
using Registry.Infants.Statuses;
using Registry.Intake.Typing;
using Registry.Platform;
using Registry.Platform.Database;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Searching;

namespace Registry.Bench;

/// <summary>
/// What the day's work is done on, in regions of several sizes that differ by the number of their sites: the work list (a coordinator's, a
/// site's, a case worker's of one county), the ward list (a screener's), the list of all children, a record, and the search for a family
/// that was lost; each as a page that is served, as the program's own code beneath it (reader, row security), and as the bare indexed
/// statements on the owner's connection, planned each time as they are for who types them, and in brackets prepared once as the program's
/// are. Last lines: <c>ratio:</c> the largest of the code to the bare statements, and <c>growth:</c> the largest of the largest region's
/// to the smallest's.
/// </summary>
internal static class BenchDay
{
    private const int Rounds = 60, Warm = 8, BirthsOfASite = 2_000;
    private const string County = "Lind 0";
    private static readonly DateOnly Today = new(2026, 11, 25);

    /// <param name="sizes">Births of each region, the smallest first.</param>
    public static async Task<int> RunAsync(int[] sizes)
    {
        await using var bench = await BenchServer.StartAsync();
        List<IReadOnlyDictionary<string, Measured>> all = [];
        foreach (var births in sizes)
        {
            var database = await bench.CreateAsync($"bench_day_{births}");
            await BenchPages.SeedAsync(database, births, Math.Max(1, births / BirthsOfASite), tests: false);
            all.Add(await MeasureAsync(database, births));
        }

        var growth = all[0].Keys.Max(name => all[^1][name].Beneath / all[0][name].Beneath);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {all.SelectMany(a => a.Values).Max(m => m.Ratio):0.00}"));
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"growth: {growth:0.00}"));
        return 0;
    }

    /// <summary>Medians, in milliseconds.</summary>
    private sealed record Measured(double Page, double Beneath, double Bare, double Prepared)
    {
        public double Ratio => Beneath / Bare;
    }

    private static async Task<IReadOnlyDictionary<string, Measured>> MeasureAsync(string owner, int births)
    {
        await using var secured = new ViewerDatabase(DatabaseLogins.Beside(owner));
        await using var bare = NpgsqlDataSource.Create(owner);
        await using var prepared = BenchServer.Prepared(owner);
        await using var program = new ProgramOnLoopback(owner);
        program.StartServer();
        var site = new SiteId((Guid)(await OneAsync(bare, "select id from sites where code = 'bench-0'"))!);
        var infant = new InfantId((Guid)(await OneAsync(bare,
            "select infant_id from infant_work where tray = 'call_today' order by rank, infant_id limit 1"))!);
        var lost = new InfantId((Guid)(await OneAsync(bare,
            "select infant_id from infant_work where tray = 'search_again' order by rank, infant_id limit 1"))!);
        using var coordinator = await program.PersonClientAsync(Role.Coordinator, null);
        using var worker = await program.PersonClientAsync(Role.CaseWorker, null, County);
        using var manager = await program.PersonClientAsync(Role.SiteManager, site);
        using var screener = await program.PersonClientAsync(Role.Screener, site);
        var office = new Viewer(Guid.CreateVersion7(), null, Role.Coordinator, null, "coordinator");
        var atTheBed = new Viewer(Guid.CreateVersion7(), null, Role.Screener, site, "screener");
        var ofCounty = new Viewer(Guid.CreateVersion7(), null, Role.CaseWorker, null, "case worker") { Counties = [County] };
        var ofSite = atTheBed with { Role = Role.SiteManager };
        var look = new LookElsewhere(secured, bare, Options.Create(new SearchingOptions()), office);
        var (list, infants) = (new ListWork(secured), new ListInfants(secured));
        var kept = new StatusesAsOf("infant_status", Today, DateTimeOffset.UtcNow, "");
        var clock = new ProgramClock(TimeProvider.System, Options.Create(new ProgramOptions { Today = Today }));
        var ward = new ListWard(secured, program.Services.GetService(typeof(PolicyStore)) as PolicyStore
            ?? throw new InvalidOperationException("No policies."), clock);
        var measured = new Dictionary<string, Measured>
        {
            ["work list"] = await BesideAsync(
                () => coordinator.GetStringAsync("/follow-up"), () => WorkAsync(list, office),
                from => ReadAsync(from, WorkSql(OfRegion, "true"))),
            ["work list of a site"] = await BesideAsync(
                () => manager.GetStringAsync("/follow-up"), () => WorkAsync(list, ofSite),
                from => ReadAsync(from, WorkSql(OfSite, "w.responsible_site_id = @site"), ("site", site.Value))),
            ["work list of a county"] = await BesideAsync(
                () => worker.GetStringAsync("/follow-up"), () => WorkAsync(list, ofCounty),
                from => ReadAsync(from, WorkSql(OfCounty, "w.county_key = @county"), ("county", InfantShown.ToCounty(County)))),
            ["search for one lost"] = await BesideAsync(
                () => coordinator.GetStringAsync($"/infants/{lost}/search"), () => look.ForAsync(lost, CancellationToken.None),
                from => ReadAsync(from, LostSql, ("infant", lost.Value), ("most", LookElsewhere.Most),
                    ("most_sharers", new SearchingOptions().SharedByMany))),
            ["ward list"] = await BesideAsync(
                () => screener.GetStringAsync("/ward"),
                () => ward.OfAsync(atTheBed, CancellationToken.None),
                from => ReadAsync(from, WardSql, ("site", site.Value), ("from", Today.AddDays(-ListWard.Days)),
                    ("lying_from", Today.AddDays(-Policy.Default.InpatientDays)), ("most", ListWard.Most + 1))),
            ["children"] = await BesideAsync(
                () => coordinator.GetStringAsync("/infants"),
                async () =>
                {
                    await infants.PageAsync(kept, new InfantFilter(), office, "-born", null, CancellationToken.None);
                    await infants.CountAsync(kept, new InfantFilter(), office, CountedTo + 1, CancellationToken.None);
                },
                from => ReadAsync(from, ChildrenSql, ("known", kept.KnownAt.ToUniversalTime()))),
            ["record"] = await BesideAsync(
                () => coordinator.GetStringAsync($"/infants/{infant}"),
                async () =>
                {
                    await using var db = await secured.OpenDbAsync(office, CancellationToken.None);
                    await db.VisibleInfants(office).AnyAsync(i => i.Id == infant);
                    await db.InfantStatuses.AsNoTracking().SingleOrDefaultAsync(s => s.InfantId == infant);
                    await TimeLine.ReadAsync(db, infant, clock.Now, [], CancellationToken.None);
                },
                from => ReadAsync(from, RecordSql, ("infant", infant.Value))),
        };
        foreach (var (name, times) in measured)
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"{births,9:N0} births, {name,-21}: page {times.Page,6:0.0} ms; beneath it {times.Beneath,6:0.00} ms / bare "
                    + $"{times.Bare,6:0.00} ms = {times.Ratio:0.00} (prepared {times.Prepared,5:0.00} ms = "
                    + $"{times.Beneath / times.Prepared:0.00})"));
        return measured;

        Task<Measured> BesideAsync(Func<Task> page, Func<Task> beneath, Func<NpgsqlDataSource, Task> statements) =>
            CompareAsync(page, beneath, () => statements(bare), () => statements(prepared));
    }

    private static async Task WorkAsync(ListWork list, Viewer viewer)
    {
        var filter = new WorkFilter();
        await list.CountAsync(filter, viewer, CancellationToken.None);
        await list.PageAsync(filter, viewer, null, ListWork.PageSize, CancellationToken.None);
    }

    private const string OfRegion =
        "select tray, sum(infants) from work_counts where responsible_site_id is null and county_key is null group by tray";
    private const string OfSite = "select tray, sum(infants) from work_counts where responsible_site_id = @site group by tray";
    private const string OfCounty = "select tray, sum(infants) from work_counts where county_key = @county group by tray";

    private static string WorkSql(string counts, string whose) => counts + "; " + EmbeddedSql.Of<ListWork>()
        .Replace("{family}", WhomToCall.Join("p.infant_id"), StringComparison.Ordinal)
        .Replace("{from}", $"from infant_work w join sites rs on rs.id = w.responsible_site_id where w.tray = 'call_today' and {whose}",
            StringComparison.Ordinal)
        .Replace("@limit", $"{ListWork.PageSize + 1}", StringComparison.Ordinal)
        .Replace("@own_site", "null", StringComparison.Ordinal);

    private static readonly int CountedTo = new InfantsOptions().CountedTo;

    private static readonly string ChildrenSql = EmbeddedSql.Of<ListInfants>()
        .Replace("{from}", $"{OfStatuses} where true", StringComparison.Ordinal)
        .Replace("{sort}", "s.born_on", StringComparison.Ordinal).Replace("{order}", "desc", StringComparison.Ordinal)
        .Replace("@limit", $"{ListInfants.PageSize + 1}", StringComparison.Ordinal)
        .Replace("@own_site", "null::uuid", StringComparison.Ordinal)
        + $"\nselect count(*) from (select {OfStatuses} limit {CountedTo + 1}) matching";

    private const string OfStatuses = "from infant_status s join sites bs on bs.id = s.birth_site_id "
        + "join sites rs on rs.id = s.responsible_site_id";

    private static readonly string WardSql = EmbeddedSql.Of<ListWard>().Replace("{visible}", "true", StringComparison.Ordinal);

    /// <summary>What may lead to a family, with where the infant was born and who was reached, by its indexes.</summary>
    private static readonly string LostSql = string.Join("\n",
        EmbeddedSql.Of<LookElsewhere>().Replace("{visible}", "true", StringComparison.Ordinal),
        EmbeddedSql.Of<LookElsewhere>("LookInWaitingRows"),
        EmbeddedSql.Of<LookElsewhere>("LastSeen"), "select * from births where infant_id = @infant;",
        "select * from contacts where infant_id = @infant;");

    /// <summary>Every table a record is told from, by its index.</summary>
    private static readonly string RecordSql = string.Join("; ", new[]
    {
        "infant_status", "births", "screenings", "diagnoses", "interventions", "risks", "contacts", "appointments", "moves", "deaths",
        "transfers", "refusals", "infant_identifiers",
    }.Select(table => $"select * from {table} where infant_id = @infant")
        .Append("select id, name from sites where id = any (array(select site_id from births where infant_id = @infant))"));

    private static async Task<Measured> CompareAsync(Func<Task> page, Func<Task> beneath, Func<Task> bare, Func<Task> prepared)
    {
        var times = new[] { page, beneath, bare, prepared }.Select(work => (Work: work, Took: new List<double>())).ToList();
        for (var i = -Warm; i < Rounds; i++)
        {
            foreach (var (work, took) in times) // in turn, so that what else the machine does meets all
            {
                var clock = Stopwatch.StartNew();
                await work();
                if (i >= 0) took.Add(clock.Elapsed.TotalMilliseconds);
            }
        }

        var medians = times.ConvertAll(t => t.Took.Order().ElementAt(Rounds / 2));
        return new(medians[0], medians[1], medians[2], medians[3]);
    }

    private static async Task ReadAsync(NpgsqlDataSource source, string sql, params (string Name, object Value)[] values)
    {
        await using var command = source.CreateCommand(sql);
        foreach (var (name, value) in values) command.Parameters.AddWithValue(name, value);
        await using var reader = await command.ExecuteReaderAsync();
        do
        {
            while (await reader.ReadAsync())
            {
            }
        }
        while (await reader.NextResultAsync());
    }

    private static async Task<object?> OneAsync(NpgsqlDataSource source, string sql)
    {
        await using var command = source.CreateCommand(sql);
        return await command.ExecuteScalarAsync();
    }
}
