using System.Net;
using Microsoft.AspNetCore.Identity;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Outreach;
using Registry.Platform.Jobs;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>What the access trail says: who looked finds the lists and exports too, and what was refused, signed in, issued, changed and
/// run is there with the caller's address.</summary>
public sealed class RecordedActsTests(TestDatabase database)
{
    private const string Births =
        """
        kind,record_number,birth_date,sex,mother_family_name
        birth,T-1,2026-09-01,female,Marlow
        birth,T-2,2026-09-02,male,Quill

        """;

    [Fact]
    public async Task Who_looked_at_a_child_finds_lists_files_and_exports_that_held_it_and_no_others()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Births);
        var (first, second) = (await IdAsync(bed, "T-1"), await IdAsync(bed, "T-2"));
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var path in new[]
        {
            "/infants?from=2026-09-02&site=harbour&q=Marlow", "/infants?to=2026-09-01&handler=csv", "/follow-up?tray=search_again",
            "/api/v1/export/facts", $"/infants/{second}",
        })
            Assert.Equal(HttpStatusCode.OK, (await client.GetAsync(path, IntakeBed.Ct)).StatusCode);

        Assert.Equal(
            ["GET /infants csv to=2026-09-01 1", "GET /follow-up  tray=search_again 2", "GET /api/v1/export/{what}   2"],
            await ReadsOfAsync(bed, first));
        Assert.Equal(
            ["GET /infants  from=2026-09-02&site=harbour 1", "GET /follow-up  tray=search_again 2", "GET /api/v1/export/{what}   2",
                "GET /infants/{id:guid}   1"],
            await ReadsOfAsync(bed, second));
        // What somebody typed is nowhere in the trail.
        Assert.Equal(0, await bed.CountAsync("access_records a where to_jsonb(a)::text like '%Marlow%'"));

        var page = await client.GetStringAsync($"/infants/{first}/reads", IntakeBed.Ct);
        Assert.Contains("to=2026-09-01", page, StringComparison.Ordinal);
        Assert.DoesNotContain("from=2026-09-02", page, StringComparison.Ordinal);
        Assert.DoesNotContain("to=2026-09-01", await client.GetStringAsync($"/infants/{first}/reads?kind=denied", IntakeBed.Ct),
            StringComparison.Ordinal);
        Assert.DoesNotContain("to=2026-09-01", await client.GetStringAsync($"/infants/{first}/reads?to=2020-01-01", IntakeBed.Ct),
            StringComparison.Ordinal);

        // In the trail of all a line of one infant has its mark, so that two lines of the same one are seen to be.
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync($"/infants/{second}", IntakeBed.Ct)).StatusCode);
        var trail = await client.GetStringAsync("/access/trail?kind=read", IntakeBed.Ct);
        Assert.Contains("to=2026-09-01", trail, StringComparison.Ordinal);
        Assert.Equal(2 + 1, trail.Split($"same infant\">{second[^5..]}<").Length);
    }

    [Fact]
    public async Task A_large_export_is_several_entries_that_name_every_infant()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.App.AsOwnerAsync("insert into infants (id, created_at) select gen_random_uuid(), now() from generate_series(1, 25000)");
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync("/api/v1/export/facts", IntakeBed.Ct)).StatusCode);
        Assert.Equal(["10000", "10000", "5000"], await bed.ListAsync(
            "select infant_count from access_records where kind = 'read' order by infant_count desc"));
        Assert.Equal(25_000, await bed.CountAsync("(select distinct unnest(infants) from access_records) i"));
    }

    [Fact]
    public async Task What_was_refused_is_recorded_with_who_from_where_and_whom()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Births);
        var id = await IdAsync(bed, "T-1");
        var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Hill);
        foreach (var path in new[] { "/access/keys", $"/infants/{id}", $"/fhir/Patient/{id}/$everything", "/access/trail" })
            await screener.GetAsync(path, IntakeBed.Ct);
        Assert.Equal(
            ["denied GET /access/keys ", $"not_shown GET /infants/{{id:guid}} {id}", $"not_shown GET /fhir/Patient/{{id}}/$everything {id}",
                "denied GET /access/trail "],
            await bed.ListAsync("select concat(kind, ' ', action, ' ', infant_id) from access_records "
                + "where kind in ('denied', 'not_shown') and person_id is not null order by id"));
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("Not shown", await coordinator.GetStringAsync($"/infants/{id}/reads", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Signing_in_keys_policies_and_jobs_are_recorded()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        var person = await bed.AddPersonAsync(Role.Coordinator);
        using var client = new HttpClient(new HttpClientHandler { AllowAutoRedirect = false }) { BaseAddress = new(bed.App.Address) };
        await SignedIn.PostAsync(client, person, "wrong");
        await SignedIn.PostAsync(client, new() { Email = "nobody@example.test", DisplayName = "" }, "wrong");
        await SignedIn.PostAsync(client, person, IntakeBed.Password);
        await using (var scope = bed.App.Services.CreateAsyncScope())
        {
            var keys = scope.ServiceProvider.GetRequiredService<SiteKeys>();
            var (key, _) = await keys.IssueAsync(bed.Harbour, "ward system", IntakeBed.Ct);
            await keys.RevokeAsync(key.Id, IntakeBed.Ct);
            await bed.App.Services.GetRequiredService<JobEnded>()("sweep-calendar", JobOutcome.Failed);
        }

        using var form = new FormUrlEncodedContent(
            [new("__RequestVerificationToken", await SignedIn.TokenAsync(client, "/access/own"))]);
        await client.PostAsync("/sign-out", form, IntakeBed.Ct);
        Assert.Equal(
            [$"sign_in_failed {person.Id}  127.0.0.1", "sign_in_failed   127.0.0.1", $"signed_in {person.Id}  127.0.0.1",
                "key_issued", "key_revoked", "job_ended  sweep-calendar failed ", "signed_out   127.0.0.1"],
            await bed.ListAsync("""
                select case when kind like 'key%' then kind else concat(kind, ' ', subject_id, ' ', note, ' ', address) end
                  from access_records order by id
                """));
    }

    [Fact]
    public async Task Who_somebody_was_is_kept_by_the_database_and_what_they_sign_in_with_is_not()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        await using (var scope = bed.App.Services.CreateAsyncScope())
        {
            var people = scope.ServiceProvider.GetRequiredService<UserManager<Person>>();
            var known = (await people.FindByIdAsync(person.Id.ToString()))!;
            await people.AccessFailedAsync(known); // no change of who it is
            known.Role = Role.Coordinator;
            known.SiteId = null;
            await people.UpdateAsync(known);
        }

        Assert.Equal(["insert  screener", "update screener coordinator"], await bed.ListAsync(
            "select concat(change, ' ', before ->> 'role', ' ', after ->> 'role') from person_changes order by id"));
        Assert.Equal(0, await bed.CountAsync("person_changes c where to_jsonb(c)::text ~ 'hash|stamp'"));
    }

    [Fact]
    public async Task The_digest_of_a_day_is_written_down_and_mailed_once_the_day_is_over()
    {
        var folder = Directory.CreateTempSubdirectory("registry-digest-").FullName;
        try
        {
            await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?>
            {
                ["Outreach:Folder"] = folder,
                ["Outreach:DigestTo"] = "keeper@example.test",
            });
            await SignedIn.AsAsync(bed, Role.Coordinator, null);
            await using (var scope = bed.App.Services.CreateAsyncScope())
                Assert.Equal("nothing new in the access trail",
                    await scope.ServiceProvider.GetRequiredService<MailTrailDigest>().RunAsync(IntakeBed.Ct));
            // The same, a day ago.
            await bed.App.AsOwnerAsync("alter table access_records disable trigger user; "
                + "update access_records set at = at - interval '1 day'; alter table access_records enable trigger user");
            await using (var scope = bed.App.Services.CreateAsyncScope())
                Assert.EndsWith("written as files",
                    await scope.ServiceProvider.GetRequiredService<MailTrailDigest>().RunAsync(IntakeBed.Ct), StringComparison.Ordinal);
            var letter = await MimeKit.MimeMessage.LoadAsync(Assert.Single(Directory.GetFiles(folder)), IntakeBed.Ct);
            Assert.Equal("keeper@example.test", letter.To.Mailboxes.Single().Address);
            Assert.Contains((await bed.ListAsync("select encode(hash, 'hex') from access_records order by id desc limit 1"))[0],
                letter.TextBody, StringComparison.Ordinal);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static async Task<string> IdAsync(IntakeBed bed, string number) =>
        (await bed.ListAsync("select infant_id from infant_identifiers where value = $1", number))[0];

    private static Task<List<string>> ReadsOfAsync(IntakeBed bed, string infant) => bed.ListAsync(
        "select concat(action, ' ', handler, ' ', filter, ' ', infant_count) from access_records "
            + "where kind = 'read' and (infant_id = $1 or infants @> array[$1]) order by id", Guid.Parse(infant));
}
