using System.Globalization;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Access;
using Registry.FollowUp;
using Registry.Infants.Statuses;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Work;
using Registry.Tests.Intake;

namespace Registry.Tests.FollowUp;

/// <summary>Kept counts of work say what the work itself says: to everybody, by every filter, whatever was changed, by whom at once, and
/// whether the counts were put together since or not; and nobody reads those of another site or county.</summary>
public sealed class CountWorkTests(TestDatabase database)
{
    private static readonly PathStep?[] Steps = [null, .. Enum.GetValues<PathStep>().Cast<PathStep?>()];

    [Fact]
    public async Task Everybody_is_told_what_a_naive_count_finds_after_random_changes_and_after_all_is_computed_again()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var viewers = await ViewersAsync(bed);
        await AgreeAsync(bed, viewers);
        var dice = new Random(4711);
        for (var round = 0; round < 4; round++)
        {
            await ChangeAsync(bed, dice, viewers);
            await AgreeAsync(bed, viewers);
            await FoldAsync(bed);
            await AgreeAsync(bed, viewers);
        }

        await bed.App.Services.GetRequiredService<KeepStatusesCurrent>().RecomputeAllAsync(IntakeBed.Ct);
        await AgreeAsync(bed, viewers);
        Assert.Equal(0, await CorrectAsync(bed)); // nothing had drifted
        await FoldAsync(bed);
        Assert.Equal(0, await bed.CountAsync("work_counts where infants < 1"));
        Assert.Equal(0, await bed.CountAsync(
            "(select from work_counts group by responsible_site_id, county_key, tray, step having count(*) > 1) c"));

        // What somebody wrote past the program is found.
        await bed.ListAsync("delete from work_counts where responsible_site_id is null returning 1");
        Assert.NotEqual(0, await CorrectAsync(bed));
        await AgreeAsync(bed, viewers);
    }

    [Fact]
    public async Task At_no_moment_do_counts_and_work_differ_while_several_write_and_fold()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        var viewers = await ViewersAsync(bed);
        var infants = (await bed.ListAsync("select id from infants order by id")).ConvertAll(Guid.Parse);
        var writers = Enumerable.Range(0, 4).Select(n => Task.Run(async () =>
        {
            await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
            for (var day = 0; day < 6; day++)
            {
                await using var transaction = await connection.BeginTransactionAsync(IntakeBed.Ct);
                // Some the others write too, on days on which other things are due; every third thinks better of it.
                await RecomputeStatuses.ForInfantsAsync(connection, [.. infants.Where((_, i) => (i + n) % 3 != 0)],
                    bed.App.Today.AddDays((day * 17 + n * 5) % 90), Policy.Default, IntakeBed.Ct);
                if ((day + n) % 3 == 0) await transaction.RollbackAsync(IntakeBed.Ct);
                else await transaction.CommitAsync(IntakeBed.Ct);
            }
        })).ToList();
        var looked = 0;
        while (!writers.TrueForAll(w => w.IsCompleted))
        {
            Assert.Equal(0, await DifferingAsync(bed));
            if (looked++ % 2 == 0) await FoldAsync(bed);
        }

        await Task.WhenAll(writers);
        Assert.True(looked > 3, $"Only {looked} looks while others wrote.");
        await AgreeAsync(bed, viewers);
    }

    [Fact]
    public async Task A_call_a_county_and_an_assignment_move_the_counts_and_taking_back_moves_them_back()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var (id, viewers) = (await WorkBed.IdAsync(bed, "W-1"), await ViewersAsync(bed));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal(4, await CountAsync(bed, viewers[0], WorkTray.CallToday));
        var key = Guid.NewGuid().ToString();
        using (await WorkBed.CallAsync(coordinator, id, "NoResponse", ("CallAgainOn", "2026-12-01"), ("Key", key)))
            Assert.Equal(3, await CountAsync(bed, viewers[0], WorkTray.CallToday));
        Assert.Equal(1, await CountAsync(bed, viewers[0], WorkTray.CallBack));
        await AgreeAsync(bed, viewers);
        using (await SignedIn.SendFormAsync(coordinator, "/follow-up?handler=Undo", ("infant", id), ("key", key)))
            Assert.Equal(4, await CountAsync(bed, viewers[0], WorkTray.CallToday));
        Assert.Equal(0, await CountAsync(bed, viewers[0], WorkTray.CallBack));
        await AgreeAsync(bed, viewers);

        // The county of a site is that of infants whose mother's is not said.
        var mere = Worker("Mere");
        Assert.Equal(0, await CountAsync(bed, mere, WorkTray.CallToday));
        await bed.ListAsync("update sites set county = 'Mere' where code = 'harbour' returning 1");
        Assert.Equal(4, await CountAsync(bed, mere, WorkTray.CallToday));
        Assert.Equal(0, await CountAsync(bed, Worker("Lind"), WorkTray.CallToday));
        await AgreeAsync(bed, [.. viewers, mere]);
    }

    [Fact]
    public async Task Nobody_reads_what_is_counted_of_another_site_or_county()
    {
        await using var bed = await IntakeBed.StartWithRegionAsync(database);
        foreach (var viewer in await ViewersAsync(bed))
        {
            await using var connection = await bed.App.Services.GetRequiredService<ViewerDatabase>().OpenAsync(viewer, IntakeBed.Ct);
            await using var ask = new NpgsqlCommand(
                "select distinct coalesce(responsible_site_id::text, county_key, 'region') from work_counts", connection);
            await using var r = await ask.ExecuteReaderAsync(IntakeBed.Ct);
            var seen = new List<string>();
            while (await r.ReadAsync(IntakeBed.Ct)) seen.Add(r.GetString(0));
            if (viewer.IsCoordinator) Assert.True(seen.Count > 3 && seen.Contains("region"));
            else Assert.Subset(viewer.Keys.Append(viewer.SiteId.ToString()!).ToHashSet(), seen.ToHashSet());
        }
    }

    private static Viewer Worker(params string[] counties) =>
        new(Guid.CreateVersion7(), null, Role.CaseWorker, null, "") { Counties = counties };

    /// <summary>A coordinator; people of sites; case workers of a county, of several, and of none; nobody.</summary>
    private static async Task<List<Viewer>> ViewersAsync(IntakeBed bed)
    {
        var sites = (await bed.ListAsync("select id from sites order by code limit 6")).ConvertAll(s => new SiteId(Guid.Parse(s)));
        var counties = await bed.ListAsync("select distinct county from sites order by 1");
        var worker = await bed.AddPersonAsync(Role.CaseWorker, null, counties[0]);
        return
        [
            new(Guid.CreateVersion7(), null, Role.Coordinator, null, ""),
            .. sites.Select(s => new Viewer(Guid.CreateVersion7(), null, Role.SiteManager, s, "")),
            new(worker.Id, null, Role.CaseWorker, null, "") { Counties = [counties[0]] },
            Worker([.. counties]), Worker(),
            new(Guid.CreateVersion7(), null, Role.Auditor, null, ""),
        ];
    }

    /// <summary>Deaths, moves, calls, tests; somebody's infants; where a mother lives; a site that closes.</summary>
    private static async Task ChangeAsync(IntakeBed bed, Random dice, List<Viewer> viewers)
    {
        var today = bed.App.Today;
        var site = (await bed.ListAsync("select site_id from births group by 1 order by count(*) desc limit 1"))[0];
        var rows =
            "kind,record_number,died_on,attempted_on,step,contact_outcome,contact_channel,outcome,ear,method,performed_at\n";
        foreach (var line in await bed.ListAsync(
            "select i.value from infant_identifiers i where i.kind = 'record_number' and i.superseded_at is null and i.site_id = $1 "
                + "order by md5(i.id::text || $2) limit 12",
            Guid.Parse(site), dice.Next().ToString(CultureInfo.InvariantCulture)))
        {
            rows += dice.Next(3) switch
            {
                0 => $"death,{line},{today:yyyy-MM-dd},,,,,,,,\n",
                1 => $"contact,{line},,{today:yyyy-MM-dd},diagnosis,no_response,phone,,,,\n",
                _ => $"screening,{line},,,,,,refer,left,aabr,{today:yyyy-MM-dd}T{dice.Next(10, 20)}:00\n",
            };
        }

        await WorkBed.SendAsync(bed, WorkBed.Family($"R-{dice.Next(100, 400)}", "2026-10-10", "Marlow" + dice.Next(100)));
        await bed.SendAsync(rows, new(Guid.Parse(site)));
        var worker = viewers.First(v => v.IsCaseWorker).PersonId!.Value;
        await bed.ListAsync("insert into infant_assignments (id, infant_id, person_id, assigned_at, assigned_by) select gen_random_uuid(), "
            + "infant_id, $1, now(), $1 from infant_work w where not exists (select from infant_assignments a "
            + "where a.infant_id = w.infant_id and a.ended_at is null) order by md5(infant_id::text || $2) limit 3 returning 1",
            worker, dice.Next().ToString(CultureInfo.InvariantCulture));
        await bed.ListAsync("update sites set county = (select county from sites order by md5(id::text || $1) limit 1) "
            + "where id = (select birth_site_id from infant_status order by md5(infant_id::text || $1) limit 1) returning 1",
            dice.Next().ToString(CultureInfo.InvariantCulture));
    }

    private static async Task AgreeAsync(IntakeBed bed, List<Viewer> viewers)
    {
        Assert.Equal(0, await DifferingAsync(bed));
        var list = bed.App.Services.GetRequiredService<ListWork>();
        var sites = await bed.ListAsync("select code from sites order by md5(code) limit 3");
        var counties = await bed.ListAsync("select distinct county from sites order by 1 limit 2");
        WorkFilter[] filters =
        [
            .. Steps.Select(s => new WorkFilter { Step = s }), .. sites.Select(s => new WorkFilter { Site = s }),
            .. counties.Select(c => new WorkFilter { County = c, Step = PathStep.Diagnosis }),
            new() { Owner = WorkFilter.Mine }, new() { Owner = WorkFilter.Nobodys }, new() { WithPhone = true },
        ];
        foreach (var viewer in viewers)
        {
            foreach (var filter in filters)
            {
                var told = (await list.CountAsync(filter, viewer, IntakeBed.Ct)).ByTray.Where(t => t.Value != 0)
                    .Select(t => $"{Codes.Of(t.Key)} {t.Value}").Order();
                Assert.Equal(await NaiveAsync(bed, filter, viewer), told);
            }
        }
    }

    /// <summary>Written anew, beside the program's: every infant's work, and of each whether the viewer sees it.</summary>
    private static async Task<IEnumerable<string>> NaiveAsync(IntakeBed bed, WorkFilter filter, Viewer viewer)
    {
        var mine = viewer.PersonId ?? Guid.Empty;
        var counties = viewer.Counties.Select(c => c.ToLowerInvariant()).ToArray();
        return (await bed.ListAsync(
            """
            select tray || ' ' || count(*) from infant_work w join sites rs on rs.id = w.responsible_site_id
              join births b on b.infant_id = w.infant_id and b.superseded_at is null join sites bs on bs.id = b.site_id
             where ($1 = 'coordinator'
                 or $1 = 'site_manager' and w.responsible_site_id in (select site_id from site_heirs where heir_id = $2)
                 or $1 = 'case_worker' and (lower(btrim(coalesce(nullif(btrim(b.county), ''), bs.county))) = any ($3)
                   or exists (select from infant_assignments a where a.infant_id = w.infant_id and a.person_id = $4 and a.ended_at is null)))
               and ($5 = '' or w.step = any ($6))
               and ($7 = '' or w.responsible_site_id in (
                     select h.site_id from site_heirs h join sites v on v.id = h.heir_id where v.code = $7))
               and ($8 = '' or rs.county = $8)
               and ($9 <> 'mine' or exists (select from infant_assignments a
                     where a.infant_id = w.infant_id and a.person_id = $4 and a.ended_at is null))
               and ($9 <> 'nobody' or not exists (select from infant_assignments a
                     where a.infant_id = w.infant_id and a.ended_at is null))
               and (not $10 or b.contact_phone is not null)
             group by tray
            """,
            Codes.Of(viewer.Role!.Value), viewer.SiteId?.Value ?? Guid.Empty, counties, mine,
            filter.Step is { } step ? Codes.Of(step) : "",
            Enum.GetValues<DueStep>().Where(s => WorkPlace.PathOf(s) == filter.Step).Select(s => Codes.Of(s)).ToArray(),
            filter.Site ?? "", filter.County ?? "", filter.Owner ?? "", filter.WithPhone)).Order();
    }

    /// <summary>Places whose count is not what the work says, both seen at one moment.</summary>
    private static Task<long> DifferingAsync(IntakeBed bed) => bed.CountAsync(
        """
        (select from (
           select 'site ' || responsible_site_id as place, tray, step, 1 as n from infant_work
           union all select 'county ' || county_key, tray, step, 1 from infant_work where county_key is not null
           union all select 'region', tray, step, 1 from infant_work
           union all
           select coalesce('site ' || responsible_site_id, 'county ' || county_key, 'region'), tray, step, -infants from work_counts) c
         group by place, tray, step having sum(n) <> 0) d
        """);

    private static async Task<long> CountAsync(IntakeBed bed, Viewer viewer, WorkTray tray) =>
        (await bed.App.Services.GetRequiredService<ListWork>().CountAsync(new(), viewer, IntakeBed.Ct)).Of(tray);

    private static Task<int> FoldAsync(IntakeBed bed) => InTransactionAsync(bed, CountWork.FoldAsync);

    private static Task<int> CorrectAsync(IntakeBed bed) => InTransactionAsync(bed, CountWork.CorrectAsync);

    private static async Task<int> InTransactionAsync(IntakeBed bed, Func<NpgsqlConnection, CancellationToken, Task<int>> work)
    {
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        await using var transaction = await connection.BeginTransactionAsync(IntakeBed.Ct);
        var done = await work(connection, IntakeBed.Ct);
        await transaction.CommitAsync(IntakeBed.Ct);
        return done;
    }
}
