using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Npgsql;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Infants;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>A case worker sees the infants of their counties and those assigned to them, over HTTP and beneath it, and no other.</summary>
public sealed class CaseWorkerTests(TestDatabase database)
{
    // LIND-1 says nothing of a county: that of Harbour Hospital, Lind, is its own.
    private const string Rows =
        """
        kind,record_number,birth_date,sex,mother_family_name,county
        birth,LIND-1,2026-08-01,female,Quist,
        birth,MERE-1,2026-08-02,male,Ashgrove,Mere
        birth,TARN-1,2026-08-03,male,Marlow, tarn

        """;

    [Fact]
    public async Task An_infant_is_seen_by_the_county_its_mother_lives_in_else_that_of_the_birth_site()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        foreach (var (counties, sees) in new (string[], string[])[]
        {
            ([], []), (["Lind"], ["LIND-1"]), (["MERE"], ["MERE-1"]), (["Mere", "Tarn"], ["MERE-1", "TARN-1"]), (["Elsewhere"], []),
            (["%"], []), (["Lind'; --"], []), (["{Lind,Mere}"], []),
        })
        {
            using var client = await SignedIn.AsAsync(bed, Role.CaseWorker, null, counties);
            await SeesAsync(bed, client, string.Join('+', counties), sees);
        }
    }

    [Fact]
    public async Task A_county_that_is_corrected_or_a_birth_site_that_moves_shows_the_infant_to_another()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        using var lind = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var mere = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Mere");
        await bed.SendAsync("kind,record_number,birth_date,sex,mother_family_name,county\nbirth,MERE-1,2026-08-02,male,Ashgrove,Lind\n");
        await SeesAsync(bed, lind, "lind", "LIND-1", "MERE-1");
        await SeesAsync(bed, mere, "mere");
        await bed.ListAsync("update sites set county = 'Mere' where code = 'harbour' returning 1");
        await SeesAsync(bed, lind, "lind, the site moved", "MERE-1");
        await SeesAsync(bed, mere, "mere, the site moved", "LIND-1");
    }

    [Fact]
    public async Task A_coordinator_assigns_and_takes_several_at_once_and_what_was_stays_readable()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var (first, second) = (await bed.AddPersonAsync(Role.CaseWorker), await bed.AddPersonAsync(Role.CaseWorker));
        using var worker = await InAsync(bed, first);
        using var other = await InAsync(bed, second);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var (lind, mere) = (await IdAsync(bed, "LIND-1"), await IdAsync(bed, "MERE-1"));
        await SeesAsync(bed, worker, "before");

        await AssignAsync(coordinator, first.Id, lind, mere);
        await SeesAsync(bed, worker, "assigned", "LIND-1", "MERE-1");
        using (await SignedIn.SendFormAsync(coordinator, $"/infants/{mere}?handler=Assign", ("worker", second.Id.ToString()))) { }
        await SeesAsync(bed, worker, "one given to another", "LIND-1");
        await SeesAsync(bed, other, "given from another", "MERE-1");
        await AssignAsync(coordinator, null, lind, mere);
        await SeesAsync(bed, worker, "taken");
        await SeesAsync(bed, other, "taken");

        Assert.Equal(3, await bed.CountAsync("infant_assignments where ended_at is not null and ended_by is not null"));
        Assert.Equal(5, await bed.CountAsync("access_records where kind = 'infant_assigned' and infant_id is not null"));
        var page = WebUtility.HtmlDecode(await coordinator.GetStringAsync($"/infants/{mere}", IntakeBed.Ct));
        Assert.Contains("(given by Coordinator) to ", page, StringComparison.Ordinal);
        Assert.Contains("Who opened this record", page, StringComparison.Ordinal);
        page = WebUtility.HtmlDecode(await coordinator.GetStringAsync($"/infants/{mere}/reads", IntakeBed.Ct));
        Assert.Contains("Coordinator, coordinator of the program", page, StringComparison.Ordinal);
        Assert.Contains("CaseWorker, case worker of the program", page, StringComparison.Ordinal);
        Assert.Contains("gave the infant to a case worker", page, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Nobody_but_a_coordinator_assigns_and_only_to_a_case_worker()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var (lind, mere) = (await IdAsync(bed, "LIND-1"), await IdAsync(bed, "MERE-1"));
        var me = await bed.AddPersonAsync(Role.CaseWorker, null, "Lind");
        var screener = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        using var worker = await InAsync(bed, me);
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        foreach (var client in new[] { worker, manager })
        {
            await AssignAsync(client, me.Id, lind, mere);
            using var one = await SignedIn.SendFormAsync(client, $"/infants/{mere}?handler=Assign", ("worker", me.Id.ToString()));
            Assert.Equal("/denied", one.Headers.Location!.AbsolutePath);
        }

        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await AssignAsync(coordinator, screener.Id, lind); // no case worker
        await AssignAsync(coordinator, Guid.NewGuid(), lind); // nobody
        await AssignAsync(coordinator, me.Id, Guid.NewGuid().ToString(), "no id"); // no infant
        Assert.Equal(0, await bed.CountAsync("infant_assignments"));

        // Who was a case worker and is something else keeps nothing of it; nor does a session that was open.
        await AssignAsync(coordinator, me.Id, mere);
        await bed.ListAsync("update people set role = 'epidemiologist', counties = '{}' where id = $1 returning 1", me.Id);
        using var gone = await worker.GetAsync($"/infants/{mere}", IntakeBed.Ct);
        Assert.Equal("/denied", gone.Headers.Location!.AbsolutePath);
    }

    [Fact]
    public async Task A_case_worker_records_an_attempt_for_an_infant_of_the_county_and_takes_it_back_and_of_no_other()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var (lind, mere) = (await IdAsync(bed, "LIND-1"), await IdAsync(bed, "MERE-1"));
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        (string, string)[] attempt = [("Step", "Screening"), ("Outcome", "Reached"), ("AttemptedOn", $"{bed.App.Today:yyyy-MM-dd}")];
        using (var answer = await SignedIn.SendFormAsync(worker, $"/infants/{lind}?handler=Contact", attempt))
            Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        using (var answer = await SignedIn.SendFormAsync(worker, $"/infants/{mere}?handler=Contact", attempt))
            Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
        var recorded = await bed.ListAsync("select id from contacts");
        Assert.Single(recorded);
        using (await SignedIn.SendFormAsync(worker, $"/infants/{lind}?handler=TakeBack", ("factId", recorded[0]))) { }
        Assert.Equal(1, await bed.CountAsync("contacts where superseded_at is not null"));
    }

    [Fact]
    public async Task Beneath_the_rule_the_database_shows_a_case_worker_the_same_infants()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var person = await bed.AddPersonAsync(Role.CaseWorker, null, "Mere");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await AssignAsync(coordinator, person.Id, await IdAsync(bed, "TARN-1"));
        var viewer = new Viewer(person.Id, null, Role.CaseWorker, null, "") { Counties = ["Mere"] };
        foreach (var (who, births) in new[]
        {
            (viewer, "MERE-1,TARN-1"), (viewer with { Counties = [] }, "TARN-1"), (viewer with { PersonId = Guid.NewGuid() }, "MERE-1"),
            (viewer with { Role = Role.Epidemiologist }, ""), (viewer with { Role = Role.Administrator }, ""),
        })
        {
            await using var connection = await bed.App.Services.GetRequiredService<ViewerDatabase>().OpenAsync(who, IntakeBed.Ct);
            foreach (var table in new[] { "infant_identifiers", "infant_status s join infant_identifiers using (infant_id)",
                "births b join infant_identifiers using (infant_id)", "infant_shown w join infant_identifiers using (infant_id)" })
            {
                await using var command = new NpgsqlCommand(
                    $"select coalesce(string_agg(distinct value, ',' order by value), '') from {table}", connection);
                Assert.Equal(births, await command.ExecuteScalarAsync(IntakeBed.Ct));
            }
        }
    }

    [Fact]
    public async Task What_was_assigned_is_not_rewritten_and_who_is_shown_what_is_written_by_triggers_alone()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows);
        var person = await bed.AddPersonAsync(Role.CaseWorker);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await AssignAsync(coordinator, person.Id, await IdAsync(bed, "LIND-1"));
        foreach (var login in new[] { bed.App.Logins.Writer, bed.App.Logins.Reader })
        {
            await using var source = NpgsqlDataSource.Create(login + ";Pooling=false");
            foreach (var sql in new[]
            {
                "insert into infant_shown select 'county:lind', id from infants", "delete from infant_shown",
                "delete from infant_assignments",
                "update infant_shown set shown_to = 'county:x'", "update infant_assignments set person_id = assigned_by",
                "insert into site_heirs select id, id from sites", "delete from site_heirs", "select refresh_infant_counties('{}')",
            })
            {
                await using var command = source.CreateCommand(sql);
                var refused = await Assert.ThrowsAsync<PostgresException>(() => command.ExecuteNonQueryAsync(IntakeBed.Ct));
                Assert.Equal(PostgresErrorCodes.InsufficientPrivilege, refused.SqlState);
            }
        }

        await using var owner = NpgsqlDataSource.Create(bed.App.Logins.Owner + ";Pooling=false");
        await using var edit = owner.CreateCommand("update infant_assignments set assigned_at = now()");
        await Assert.ThrowsAsync<PostgresException>(() => edit.ExecuteNonQueryAsync(IntakeBed.Ct));
    }

    internal static async Task<string> IdAsync(IntakeBed bed, string number) =>
        (await bed.ListAsync("select infant_id from infant_identifiers where value = $1 and superseded_at is null", number))[0];

    private static async Task<HttpClient> InAsync(IntakeBed bed, Person person)
    {
        var client = SignedIn.Nobody(bed);
        using (await SignedIn.PostAsync(client, person, IntakeBed.Password)) return client;
    }

    private static async Task AssignAsync(HttpClient client, Guid? worker, params string[] infants)
    {
        using var answer = await SignedIn.SendFormAsync(client, "/follow-up?handler=Assign",
            [.. infants.Select(i => ("ticked", i)), ("worker", worker?.ToString() ?? "")]);
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
    }

    /// <summary>In the list, in its CSV, in the follow-up list, and by the record itself.</summary>
    private static async Task SeesAsync(IntakeBed bed, HttpClient client, string who, params string[] numbers)
    {
        foreach (var path in new[] { "/infants", "/infants?handler=csv", "/follow-up?tray=search_again" })
        {
            var text = await client.GetStringAsync(path, IntakeBed.Ct);
            foreach (var number in new[] { "LIND-1", "MERE-1", "TARN-1" })
                Assert.True(text.Contains(number, StringComparison.Ordinal) == numbers.Contains(number), $"{who}: {number} in {path}");
        }

        foreach (var number in new[] { "LIND-1", "MERE-1", "TARN-1" })
        {
            using var record = await client.GetAsync($"/infants/{await IdAsync(bed, number)}", IntakeBed.Ct);
            Assert.Equal(numbers.Contains(number) ? HttpStatusCode.OK : HttpStatusCode.NotFound, record.StatusCode);
        }

        foreach (var (name, number) in new[] { ("Quist", "LIND-1"), ("Ashgrove", "MERE-1"), ("Marlow", "TARN-1") })
            Assert.True((await FindTests.FindAsync(client, name)).Contains(number, StringComparison.Ordinal) == numbers.Contains(number),
                $"{who}: {number} by its name");
    }
}
