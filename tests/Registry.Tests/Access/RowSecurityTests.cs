using System.Globalization;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.List;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Reporting.Export;
using Registry.Rules.Facts;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>Row security beneath the visibility rule: the rule taken out of a query, and still nothing foreign is seen.</summary>
public sealed class RowSecurityTests(TestDatabase database)
{
    private static readonly Viewer Coordinator = new(Guid.CreateVersion7(), null, Role.Coordinator, null, "Coordinator");

    private static Viewer Of(SiteId? site) => new(Guid.CreateVersion7(), null, Role.SiteManager, site, "Manager");

    [Fact]
    public async Task Every_table_the_reader_sees_by_infant_has_row_security_and_one_rule_for_each_view()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var reader = new NpgsqlConnectionStringBuilder(bed.App.Logins.Reader);
        var secured = await bed.ListAsync("""
            select c.relname || ' ' || p.polname || ' ' || array_to_string(p.polroles::regrole[], ' ')
              from pg_class c join pg_policy p on p.polrelid = c.oid
             where c.relrowsecurity and p.polcmd = 'r' and p.polpermissive
            """);
        Assert.Equal(TableRights.All.Where(t => t.IsRowSecured).SelectMany(t => Enum.GetValues<ReaderView>()
            .Select(v => $"{t.Table} seen_by_{Codes.Of(v)} {GrantRights.Role(reader, v)}")).Order(), secured.Order());
        Assert.Equal(secured.Count, await bed.CountAsync("pg_policy"));
        // Whatever says something of an infant is either secured or closed to the reader.
        var open = await bed.ListAsync("select distinct table_name from information_schema.columns "
            + "where table_schema = 'public' and column_name in ('infant_id', 'screening_id')");
        Assert.DoesNotContain(open, t => TableRights.All.Any(r => r.Table == t && r.Reader == ReaderSees.All));
    }

    [Fact]
    public async Task A_viewer_finds_in_every_table_exactly_the_infants_the_rule_shows()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        foreach (var viewer in new[] { Coordinator, Of(await BusySiteAsync(bed)), Of(bed.Hill), Of(null), Viewer.Nobody })
        {
            var seen = await VisibleAsync(bed, viewer);
            await using var connection = await bed.App.Services.GetRequiredService<ViewerDatabase>().OpenAsync(viewer, IntakeBed.Ct);
            foreach (var table in TableRights.All.Where(t =>
                t is { Reader: ReaderSees.SeenInfants, Infant: not ("screening_id" or "diagnosis_id") }))
            {
                var sql = $"select distinct \"{table.Infant}\" from \"{table.Table}\"";
                var all = (await bed.ListAsync(sql)).ToHashSet();
                Assert.Equal(all.Where(seen.Contains).Order(), (await AskAsync(connection, sql)).Order());
            }
        }
    }

    /// <summary>What the policy of the work list takes for granted.</summary>
    [Fact]
    public async Task Whoever_owns_an_infants_next_step_sees_the_infant()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        Assert.NotEqual(0, await bed.CountAsync("infant_work"));
        foreach (var table in new[] { "infant_work", "infant_status" })
            Assert.Equal(0, await bed.CountAsync($"{table} w where responsible_site_id is not null and not exists (select "
                + "from infant_sites v where v.infant_id = w.infant_id and v.site_id = w.responsible_site_id)"));
    }

    [Fact]
    public async Task With_the_rule_taken_out_a_list_a_record_and_an_export_still_show_nothing_foreign()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var viewer = Of(await BusySiteAsync(bed));
        var seen = await VisibleAsync(bed, viewer);
        var all = (await bed.ListAsync("select id from infants")).ToHashSet();
        Assert.InRange(seen.Count, 1, all.Count - 1);
        await using var scope = bed.App.Services.CreateAsyncScope();
        var data = scope.ServiceProvider.GetRequiredService<ViewerDatabase>();
        var statuses = await scope.ServiceProvider.GetRequiredService<StatusSource>().AsOfAsync(bed.App.Today, IntakeBed.Ct);

        // The list: its own statement, the rule replaced by "true". Without row security it finds everybody.
        await using (var connection = await data.OpenAsync(viewer, IntakeBed.Ct))
            Assert.Equal(seen.Count, await ListWithoutRuleAsync(connection, statuses));
        await using (var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct))
            Assert.Equal(all.Count, await ListWithoutRuleAsync(connection, statuses));

        // The record: everything that is read of an infant, nobody having asked whether it may be.
        await using (var connection = await data.OpenAsync(viewer, IntakeBed.Ct))
        {
            foreach (var foreign in all.Except(seen).Take(50))
                Assert.Empty(await FactHistory.ReadAsync(connection, new(Guid.Parse(foreign)), bed.Now.AddYears(1), IntakeBed.Ct));
            Assert.NotEmpty(await FactHistory.ReadAsync(connection, new(Guid.Parse(seen.First())), bed.Now.AddYears(1), IntakeBed.Ct));
        }

        // The export holds no rule at all: it is for coordinators. A site that got there would take its own infants away.
        foreach (var (who, infants) in new[] { (viewer, seen), (Coordinator, all) })
        {
            using var file = new MemoryStream();
            var export = new ExportFacts(data, who, scope.ServiceProvider.GetRequiredService<StatusSource>(),
                scope.ServiceProvider.GetRequiredService<LimitSnapshots>(),
                scope.ServiceProvider.GetRequiredService<Registry.Platform.ProgramClock>());
            await export.WriteFactsAsync(file, bed.App.Today, ExportFormat.Ndjson, IntakeBed.Ct);
            var taken = Encoding.UTF8.GetString(file.ToArray()).Split('\n', StringSplitOptions.RemoveEmptyEntries)
                .Select(l => System.Text.Json.JsonDocument.Parse(l).RootElement.GetProperty("infant_id").GetString()!).ToHashSet();
            Assert.Equal(infants.Order(), taken.Order());
        }
    }

    [Fact]
    public async Task A_connection_that_comes_back_forgets_its_viewer_and_one_that_was_told_nothing_sees_nothing()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var site = await BusySiteAsync(bed);
        var one = bed.App.Logins with { Reader = bed.App.Logins.Reader + ";Maximum Pool Size=1;No Reset On Close=true;Multiplexing=true" };
        await using var data = new ViewerDatabase(one);
        var everybody = await bed.CountAsync("infants");
        var backends = new Dictionary<bool, int>();
        // So often that the session's plan of the statement is one for whoever asks.
        for (var round = 0; round < 10; round++)
        {
            foreach (var (viewer, sees) in new[]
            {
                (Coordinator, everybody), (Of(site), (await VisibleAsync(bed, Of(site))).Count), (Viewer.Nobody, 0L),
                (Coordinator, everybody), (Of(bed.Hill), 0),
            })
            {
                await using var connection = await data.OpenAsync(viewer, IntakeBed.Ct);
                var backend = backends.TryAdd(viewer.IsCoordinator, connection.ProcessID) ? connection.ProcessID
                    : backends[viewer.IsCoordinator];
                Assert.Equal(backend, connection.ProcessID); // the same session, lent again
                var seen = await AskAsync(connection, "select count(*) from infants");
                Assert.Equal(sees, long.Parse(seen[0], CultureInfo.InvariantCulture));
            }
        }

        await using var untold = NpgsqlDataSource.Create(bed.App.Logins.Reader + ";Pooling=false");
        await using var stranger = await untold.OpenConnectionAsync(IntakeBed.Ct);
        foreach (var table in TableRights.All.Where(t => t.IsRowSecured))
            Assert.Equal(["0"], await AskAsync(stranger, $"select count(*) from \"{table.Table}\""));
        Assert.Equal(["0"], await AskAsync(stranger, "select count(*) from test_details"));
    }

    [Fact]
    public async Task A_site_that_continues_a_closed_one_sees_its_infants_in_every_table_and_no_others()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var closed = await BusySiteAsync(bed);
        await bed.App.AsOwnerAsync($"insert into site_heirs (site_id, heir_id) values ('{closed}', '{bed.Hill}')");
        var seen = await VisibleAsync(bed, Of(bed.Hill));
        Assert.NotEmpty(seen);
        await using var connection = await bed.App.Services.GetRequiredService<ViewerDatabase>().OpenAsync(Of(bed.Hill), IntakeBed.Ct);
        Assert.Equal(seen.Order(), (await AskAsync(connection, "select id from infants")).Order());
        Assert.Equal(seen.Order(), (await AskAsync(connection, "select distinct infant_id from births")).Where(seen.Contains).Order());
        Assert.NotEqual(seen.Count, await bed.CountAsync("infants"));
    }

    /// <summary>A connection keeps its plans: one made while nobody asked would otherwise believe that a site has no infants, and gather
    /// all of them to look one up.</summary>
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_record_is_looked_up_however_many_infants_the_site_has_and_whoever_asked_first(bool byKeys)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.App.AsOwnerAsync($"""
            insert into infants (id, created_at) select gen_random_uuid(), now() from generate_series(1, 20000);
            insert into screenings (id, infant_id, site_id, recorded_at, ear, method, outcome, reason, stage, performed_at)
            select gen_random_uuid(), id, '{bed.Harbour}', now(), 'right', 'aabr', 'pass', 'none', 'birth_admission', now() from infants;
            analyze
            """);
        await using var data = new ViewerDatabase(bed.App.Logins with { Reader = bed.App.Logins.Reader + ";Maximum Pool Size=1" });
        const string keep = "set plan_cache_mode = force_generic_plan";
        IReadOnlyList<Guid> glasses = byKeys ? [Guid.NewGuid()] : [];
        await using (var connection = await data.OpenAsync(Of(null) with { Glasses = glasses }, IntakeBed.Ct))
        {
            await AskAsync(connection, keep);
            for (var i = 0; i < 3; i++) await FactHistory.ReadAsync(connection, new(Guid.NewGuid()), bed.Now, IntakeBed.Ct);
        }

        await using var site = await data.OpenAsync(Of(bed.Harbour) with { Glasses = glasses }, IntakeBed.Ct);
        await AskAsync(site, keep);
        var plans = await AskAsync(site, "select name from pg_prepared_statements where cardinality(parameter_types) = 2 "
            + "and statement like '%infant_id = $1%'");
        Assert.Equal(FactKinds.All.Count, plans.Count);
        foreach (var plan in plans)
        {
            var lines = string.Join('\n', await AskAsync(site, $"explain execute {plan}(null, null)"));
            Assert.Contains("SubPlan", lines, StringComparison.Ordinal);
            Assert.DoesNotContain("hashed SubPlan", lines, StringComparison.Ordinal);
        }
    }

    private static async Task<long> ListWithoutRuleAsync(NpgsqlConnection connection, StatusesAsOf statuses)
    {
        await using var command = connection.CreateCommand();
        var from = ListInfants.From(command, statuses, new(), Viewer.Nobody);
        Assert.Contains(Visibility.Where("s.infant_id"), from, StringComparison.Ordinal);
        command.CommandText = "select count(*) " + from.Replace(Visibility.Where("s.infant_id"), "true", StringComparison.Ordinal);
        return (long)(await command.ExecuteScalarAsync(IntakeBed.Ct))!;
    }

    /// <summary>What the rule shows, asked of the program's own code, beneath no row security.</summary>
    private static async Task<HashSet<string>> VisibleAsync(IntakeBed bed, Viewer viewer)
    {
        await using var command = bed.Source.CreateCommand($"select i.id::text from infants i where {Visibility.Where("i.id")}");
        Visibility.Bind(command, viewer);
        await using var reader = await command.ExecuteReaderAsync(IntakeBed.Ct);
        var ids = new HashSet<string>();
        while (await reader.ReadAsync(IntakeBed.Ct)) ids.Add(reader.GetString(0));
        return ids;
    }

    private static async Task<SiteId> BusySiteAsync(IntakeBed bed) => new(Guid.Parse((await bed.ListAsync(
        "select site_id from births where superseded_at is null group by 1 order by count(*) desc limit 1"))[0]));

    private static async Task<List<string>> AskAsync(NpgsqlConnection connection, string sql)
    {
        var list = new List<string>();
        await using var command = new NpgsqlCommand(sql, connection);
        await using var reader = await command.ExecuteReaderAsync(IntakeBed.Ct);
        while (await reader.ReadAsync(IntakeBed.Ct)) list.Add(reader.GetValue(0).ToString()!);
        return list;
    }
}
