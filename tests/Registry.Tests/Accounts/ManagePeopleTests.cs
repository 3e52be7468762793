using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.Access;
using Registry.Tests.Intake;

namespace Registry.Tests.Accounts;

/// <summary>Inviting, placing and shutting out people on their pages.</summary>
public sealed partial class ManagePeopleTests(TestDatabase database)
{
    [Fact]
    public async Task A_link_lets_one_person_choose_a_password_once_and_only_its_hash_is_kept()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        var link = await InviteAsync(administrator, "sena@hill.example", "screener", "hill");
        Assert.Empty(await bed.ListAsync($"select 1 from one_time_links where one_time_links::text like '%{link[^43..]}%'"));
        using var stranger = SignedIn.Nobody(bed);
        Assert.Equal(HttpStatusCode.OK, (await stranger.GetAsync(link, IntakeBed.Ct)).StatusCode);
        using (var weak = await ChooseAsync(stranger, link, "password1234"))
            Assert.Contains("easily guessed", await weak.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        using (var chosen = await ChooseAsync(stranger, link)) Assert.Equal(HttpStatusCode.Redirect, chosen.StatusCode);
        Assert.Equal(HttpStatusCode.OK, (await stranger.GetAsync("/infants", IntakeBed.Ct)).StatusCode);
        using var second = SignedIn.Nobody(bed);
        foreach (var dead in new[] { link, "/password/guessed", $"/password/{new string('A', 43)}" })
        {
            using var used = await ChooseAsync(second, dead);
            Assert.Equal(HttpStatusCode.NotFound, used.StatusCode);
        }
    }

    [Fact]
    public async Task A_link_run_out_replaced_or_of_somebody_disabled_opens_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        using var stranger = SignedIn.Nobody(bed);
        var runOut = await InviteAsync(administrator, "one@hill.example", "screener", "hill");
        await bed.ListAsync("update one_time_links set ends_at = now() returning 1");
        var replaced = await InviteAsync(administrator, "two@hill.example", "screener", "hill");
        var two = (await bed.ListAsync("select id from people where email = 'two@hill.example'"))[0];
        using (var again = await SessionsTests.PostAsync(administrator, $"/access/people/{two}", "?handler=Ask"))
            Assert.Equal(HttpStatusCode.OK, again.StatusCode);
        var disabled = await InviteAsync(administrator, "three@hill.example", "screener", "hill");
        var three = (await bed.ListAsync("select id from people where email = 'three@hill.example'"))[0];
        using (await SessionsTests.PostAsync(administrator, $"/access/people/{three}", "?handler=Disable", ("disabled", "true")))
        using (await SessionsTests.PostAsync(administrator, $"/access/people/{three}", "?handler=Disable", ("disabled", "false")))
            foreach (var link in new[] { runOut, replaced, disabled })
            {
                using var answer = await ChooseAsync(stranger, link);
                Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
            }
    }

    [Fact]
    public async Task Asking_for_another_password_ends_the_one_in_use_and_every_session()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        using var client = SignedIn.Nobody(bed);
        using (await SignedIn.PostAsync(client, person, IntakeBed.Password)) { }
        Assert.Equal(HttpStatusCode.OK, (await client.GetAsync("/infants", IntakeBed.Ct)).StatusCode);
        using (await SessionsTests.PostAsync(administrator, $"/access/people/{person.Id}", "?handler=Ask")) { }
        Assert.Equal(HttpStatusCode.Redirect, (await client.GetAsync("/infants", IntakeBed.Ct)).StatusCode);
        using var refused = await SignedIn.PostAsync(SignedIn.Nobody(bed), person, IntakeBed.Password);
        Assert.Equal(HttpStatusCode.OK, refused.StatusCode);
    }

    [Fact]
    public async Task Each_change_is_in_the_history_and_in_the_trail_and_is_taken_back_by_a_button()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        var page = $"/access/people/{person.Id}";
        Task<HttpResponseMessage> PostAsync(string handler, params (string, string)[] fields) =>
            SessionsTests.PostAsync(administrator, page, $"?handler={handler}", fields);
        using (await PostAsync("Place", ("Role", "site_manager"), ("Site", "hill"))) { }
        using (await PostAsync("Disable", ("disabled", "true"))) { }
        using (await PostAsync("Add", ("Role", "screener"), ("Site", "harbour"))) { }
        Assert.Equal(["site_manager t 1"], await StateAsync());
        var changes = await bed.ListAsync(
            "select id from person_changes where person_id = $1 and change <> 'insert' order by id desc", person.Id);
        Assert.Equal(3, changes.Count);
        foreach (var change in changes) using (await PostAsync("TakeBack", ("change", change))) { }
        Assert.Equal(["screener f 0"], await StateAsync());
        Assert.Equal(6, await bed.CountAsync($"access_records where kind = 'person_changed' and subject_id = '{person.Id}'"));
        Assert.Contains("Screener, Harbour Hospital → Site manager, Hill Audiology",
            WebUtility.HtmlDecode(await administrator.GetStringAsync(page, IntakeBed.Ct)), StringComparison.Ordinal);

        Task<List<string>> StateAsync() => bed.ListAsync(
            """
            select concat_ws(' ', role, disabled_at is not null, (select count(*) from person_places w where w.person_id = p.id))
              from people p where id = $1
            """, person.Id);
    }

    [Fact]
    public async Task Nobody_changes_oneself_and_nobody_but_an_administrator_changes_anybody()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        var me = (await bed.ListAsync("select id from people"))[0];
        foreach (var handler in new[] { "Place", "Add", "Remove", "Disable", "Ask", "Factor", "End", "TakeBack" })
        {
            using var answer = await SessionsTests.PostAsync(administrator, $"/access/people/{me}", $"?handler={handler}",
                ("Role", "coordinator"), ("disabled", "true"));
            Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        }

        Assert.Equal(["administrator f"], await bed.ListAsync("select concat_ws(' ', role, disabled_at is not null) from people"));
        Assert.Empty(await bed.ListAsync("select 1 from person_places"));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var page in new[] { "/access/people", $"/access/people/{me}", "/access/people/file", "/access/roles" })
        {
            using var denied = await coordinator.GetAsync(page, IntakeBed.Ct);
            Assert.Equal("/denied", denied.Headers.Location!.AbsolutePath);
        }
    }

    /// <summary>One person, two sites: in each session one of them, and never what is between.</summary>
    [Fact]
    public async Task Somebody_of_two_sites_sees_the_infants_of_the_one_they_work_in()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var tarn = await bed.AddSiteAsync("tarn", SiteKind.Hospital);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,HARBOUR-1,2026-09-01,female\n");
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,TARN-1,2026-09-02,male\n", tarn);
        var (person, other) = (await bed.AddPersonAsync(Role.Screener, bed.Harbour), await bed.AddPersonAsync(Role.Screener, bed.Hill));
        foreach (var whose in new[] { person, other })
            await bed.ListAsync("insert into person_places (id, person_id, role, site_id, since) "
                + "values (gen_random_uuid(), $1, 'screener', $2, now()) returning 1", whose.Id, tarn.Value);
        var places = await bed.ListAsync("select id from person_places order by person_id = $1 desc", person.Id);
        using var client = SignedIn.Nobody(bed);
        using (await SignedIn.PostAsync(client, person, IntakeBed.Password)) { }
        await SeesAsync("HARBOUR-1", "TARN-1");
        await WorkAsync(places[0]);
        await SeesAsync("TARN-1", "HARBOUR-1");
        await WorkAsync(places[1]); // another person's
        await SeesAsync("TARN-1", "HARBOUR-1");
        await bed.ListAsync("delete from person_places where id = $1 returning 1", Guid.Parse(places[0]));
        await SeesAsync("HARBOUR-1", "TARN-1");

        async Task WorkAsync(string place)
        {
            using var answer = await SessionsTests.PostAsync(client, "/access/own", "?handler=Work", ("place", place));
        }

        async Task SeesAsync(string what, string andNot)
        {
            var list = await client.GetStringAsync("/infants", IntakeBed.Ct);
            Assert.Contains(what, list, StringComparison.Ordinal);
            Assert.DoesNotContain(andNot, list, StringComparison.Ordinal);
        }
    }

    [Fact]
    public async Task A_file_of_people_is_tried_first_and_invites_all_or_nobody()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        const string good = "email,name,role,site\ncora@lindmere.example,Cora Ashgrove,coordinator,\n"
            + "sena@hill.example,Sena Quispel,screener,hill\n";
        const string bad = good + "odd,No Address,screener,hill\nx@hill.example,No Site,screener,\ny@hill.example,Y,king,hill\n";
        foreach (var handler in new[] { "Try", "Invite" })
        {
            using var answer = await SessionsTests.PostAsync(administrator, "/access/people/file", $"?handler={handler}", ("Text", bad));
            var text = WebUtility.HtmlDecode(await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
            Assert.Contains("Roles are: administrator", text, StringComparison.Ordinal);
            Assert.DoesNotContain("Invite 5", text, StringComparison.Ordinal);
        }

        Assert.Equal(1, await bed.CountAsync("people"));
        using var invited = await SessionsTests.PostAsync(administrator, "/access/people/file", "?handler=Invite", ("Text", good));
        Assert.Equal(2, Link().Count(await invited.Content.ReadAsStringAsync(IntakeBed.Ct)));
        var csv = await administrator.GetStringAsync("/access/people?handler=csv", IntakeBed.Ct);
        Assert.Contains("sena@hill.example,Sena Quispel,screener,hill", csv, StringComparison.Ordinal);
    }

    /// <summary>Everybody with every place, out and in again: nothing changes; and in at an empty registry: the same people.</summary>
    [Fact]
    public async Task The_file_of_people_goes_out_with_every_place_and_comes_in_again_without_a_change()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        const string file = "email,name,role,site,counties\ncasey@lindmere.example,Casey Ruan,case_worker,,Mere;Lind\n"
            + "sena@hill.example,\"Quispel, Sena\",screener,hill,\nsena@hill.example,\"Quispel, Sena\",screener,harbour,\n"
            + "sena@hill.example,\"Quispel, Sena\",case_worker,,\nepi@lindmere.example,Eppo Dale,epidemiologist,,\n";
        using (await SessionsTests.PostAsync(administrator, "/access/people/file", "?handler=Invite", ("Text", file))) { }
        Assert.Equal(
            ["casey@lindmere.example case_worker {Lind,Mere}", "epi@lindmere.example epidemiologist {}",
                "sena@hill.example also case_worker {}", "sena@hill.example also screener harbour {}",
                "sena@hill.example screener hill {}"],
            await PeopleAsync());

        var csv = await administrator.GetStringAsync("/access/people?handler=csv", IntakeBed.Ct);
        var before = await bed.ListAsync("select count(*) from person_changes");
        using var again = await SessionsTests.PostAsync(administrator, "/access/people/file", "?handler=Try", ("Text", csv));
        Assert.Contains("nothing changes", await again.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        using (await SessionsTests.PostAsync(administrator, "/access/people/file", "?handler=Invite", ("Text", csv))) { }
        Assert.Equal(before, await bed.ListAsync("select count(*) from person_changes"));
        Assert.Equal(csv, await administrator.GetStringAsync("/access/people?handler=csv", IntakeBed.Ct));

        await using var empty = await IntakeBed.StartAsync(database);
        using var other = await SignedIn.AsAsync(empty, Role.Administrator, null);
        using (await SessionsTests.PostAsync(other, "/access/people/file", "?handler=Invite", ("Text", csv))) { }
        var there = await empty.ListAsync(People);
        Assert.Equal((await PeopleAsync()).Count, there.Count(l => !l.StartsWith("administrator", StringComparison.Ordinal)));

        async Task<List<string>> PeopleAsync() =>
            [.. (await bed.ListAsync(People)).Where(l => !l.StartsWith("administrator", StringComparison.Ordinal))];
    }

    private const string People =
        """
        select concat_ws(' ', p.email, p.role, s.code, p.counties::text) from people p left join sites s on s.id = p.site_id
        union all select concat_ws(' ', p.email, 'also', w.role, s.code, w.counties::text)
          from person_places w join people p on p.id = w.person_id left join sites s on s.id = w.site_id
        order by 1
        """;

    [Theory]
    [InlineData("sena@hill.example,Sena,case_worker,,Nowhere", "no such county")]
    [InlineData("sena@hill.example,Sena,screener,hill,Lind", "Only a case worker")]
    [InlineData("sena@hill.example,Sena,case_worker,hill,Lind", "belong to the program")]
    [InlineData("ME,Me,coordinator,,", "nobody changes their own role")]
    [InlineData("GONE,Gone,screener,harbour,", "disabled")]
    public async Task A_file_gives_nobody_what_a_page_would_not(string row, string problem)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var administrator = await SignedIn.AsAsync(bed, Role.Administrator, null);
        var me = (await bed.ListAsync("select email from people"))[0];
        var gone = await bed.AddPersonAsync(Role.Screener, bed.Hill);
        await bed.ListAsync("update people set disabled_at = now() where id = $1 returning 1", gone.Id);
        using var answer = await SessionsTests.PostAsync(administrator, "/access/people/file", "?handler=Invite",
            ("Text", "email,name,role,site,counties\n" + row.Replace("ME", me, StringComparison.Ordinal)
                .Replace("GONE", gone.Email, StringComparison.Ordinal)));
        Assert.Contains(problem, WebUtility.HtmlDecode(await answer.Content.ReadAsStringAsync(IntakeBed.Ct)), StringComparison.Ordinal);
        Assert.Equal(2, await bed.CountAsync("people"));
        Assert.Equal(0, await bed.CountAsync("person_places"));
    }

    private static async Task<string> InviteAsync(HttpClient administrator, string email, string role, string site)
    {
        using var answer = await SessionsTests.PostAsync(administrator, "/access/people", "", ("Email", email), ("Name", "Somebody"),
            ("Role", role), ("Site", site));
        return Link().Match(await answer.Content.ReadAsStringAsync(IntakeBed.Ct)).Value;
    }

    private static async Task<HttpResponseMessage> ChooseAsync(HttpClient client, string link, string password = IntakeBed.Password)
    {
        using var form = new FormUrlEncodedContent(
            [new("Password", password), new("__RequestVerificationToken", await SignedIn.TokenAsync(client, "/sign-in"))]);
        return await client.PostAsync(link, form, IntakeBed.Ct);
    }

    [GeneratedRegex("/password/[A-Za-z0-9_-]{43}")]
    private static partial Regex Link();
}
