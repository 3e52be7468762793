using System.Net;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteQuality.Flags;

/// <summary>What people do about a flag: kept, shown, taken back; by who answers for the site, and by nobody else.</summary>
public sealed class ActOnFlagTests(TestDatabase database)
{
    [Fact]
    public async Task A_flag_is_seen_explained_acted_on_watched_closed_and_reopened_and_all_of_it_stays_readable()
    {
        var (bed, id) = await StartAsync();
        await using var _ = bed;
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await TextAsync(manager, id);
        foreach (var said in new[]
        {
            "Probe P9: more first sessions with a test without a seal", "New, nobody has looked", "19", "4.2", "28 Oct 2026 to 5 Nov 2026",
            "80 % (60 % to 95 %)", "policy 2026-1", "the year before 1 Oct 2025", "tip size and fit",
                "instructions and the local protocol come first",
        }) Assert.Contains(said, page, StringComparison.Ordinal);

        await DoneAsync(manager, id, 0, "seen");
        await DoneAsync(manager, id, 1, "explained", ("Form.Words", "Wax in the port <script>alert(1)</script>"));
        await DoneAsync(manager, id, 2, "acted", ("Form.Words", "New tip, port cleaned"), ("Form.Day", "2026-11-24"));
        await DoneAsync(manager, id, 3, "watched", ("Form.Day", "2026-12-20"));
        Assert.Contains("Watched until 20 Dec 2026", await coordinator.GetStringAsync("/flags?show=watched", IntakeBed.Ct),
            StringComparison.Ordinal);
        await DoneAsync(manager, id, 4, "closed", ("Form.Reason", "put_right"));
        page = await TextAsync(coordinator, id);
        foreach (var said in new[]
        {
            "has seen it", "Wax in the port &lt;script&gt;", "did something on 24 Nov 2026: New tip, port cleaned",
                "watches it until 20 Dec 2026",
            "closed it. Something was wrong and is put right", "Closed 25 Nov 2026",
        }) Assert.Contains(said, page, StringComparison.Ordinal);
        Assert.DoesNotContain("<script>alert", page, StringComparison.Ordinal);
        Assert.Equal(["closed 5 2026-11-25"], await bed.ListAsync("select concat_ws(' ', state, acts, closed_on) from quality_findings"));

        await DoneAsync(coordinator, id, 5, "reopened", ("Form.Words", "The next week had as many"));
        Assert.Equal(["seen 6"], await bed.ListAsync("select concat_ws(' ', state, acts, closed_on) from quality_findings"));
        // Taken back by who did it: it was closed after all.
        await DoneAsync(coordinator, id, 6, "taken_back");
        Assert.Equal(["closed 7 2026-11-25"], await bed.ListAsync("select concat_ws(' ', state, acts, closed_on) from quality_findings"));

        // The day before, nobody had done anything; the evidence is the same.
        var before = WebUtility.HtmlDecode(await manager.GetStringAsync($"/sites/harbour/flags/{id}?asOf=2026-11-24", IntakeBed.Ct));
        Assert.Contains("New, nobody has looked", before, StringComparison.Ordinal);
        Assert.DoesNotContain("Wax in the port", before, StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.NotFound, (await manager.GetAsync($"/sites/harbour/flags/{id}?asOf=2026-11-10",
            IntakeBed.Ct)).StatusCode);

        Assert.Empty(await bed.ListAsync("select 1 from flag_acts where words like '%port%' or words not like 'enc:%'"));
        Assert.Equal(["seen", "explained", "acted", "watched", "closed", "reopened", "taken_back"], await bed.ListAsync(
            $"select note from access_records where kind = 'flag_acted_on' and subject_id = '{id}' order by id"));
    }

    [Fact]
    public async Task Nobody_else_reads_a_flag_or_acts_on_it_whatever_they_send()
    {
        var (bed, id) = await StartAsync();
        await using var _ = bed;
        var path = $"/sites/harbour/flags/{id}";
        using var other = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        using var caseWorker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var nobody = SignedIn.Nobody(bed);
        foreach (var address in new[] { path, $"/sites/hill/flags/{id}", $"/sites/harbour/flags/{Guid.CreateVersion7()}" })
        {
            Assert.Equal(HttpStatusCode.NotFound, (await other.GetAsync(address, IntakeBed.Ct)).StatusCode);
            using var sent = await SignedIn.SendFormAsync(other, address,
                ("Form.Acts", "0"), ("Form.Act", "closed"), ("Form.Reason", "put_right"));
            Assert.Equal(HttpStatusCode.NotFound, sent.StatusCode);
        }

        foreach (var client in new[] { screener, caseWorker })
        {
            Assert.Equal("/denied", (await client.GetAsync(path, IntakeBed.Ct)).Headers.Location!.AbsolutePath);
            using var sent = await SignedIn.SendFormAsync(client, path,
                ("Form.Acts", "0"), ("Form.Act", "closed"), ("Form.Reason", "put_right"));
            Assert.Equal("/denied", sent.Headers.Location!.AbsolutePath);
            Assert.Equal("/denied", (await client.GetAsync("/flags", IntakeBed.Ct)).Headers.Location!.AbsolutePath);
        }

        Assert.Equal("/sign-in", (await nobody.GetAsync(path, IntakeBed.Ct)).Headers.Location!.AbsolutePath);
        foreach (var list in new[] { "/flags?site=harbour", "/flags?site=harbour&handler=Csv" })
            Assert.DoesNotContain("P9", SignedIn.Plain(await other.GetStringAsync(list, IntakeBed.Ct)), StringComparison.Ordinal);

        // Looking changes nothing, with whatever verb and query; a form without its token is refused.
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        await manager.GetAsync($"{path}?Form.Acts=0&Form.Act=closed&Form.Reason=put_right&handler=Post", IntakeBed.Ct);
        foreach (var verb in new[] { "PUT", "DELETE", "PATCH", "HEAD", "OPTIONS", "TRACE" })
        {
            using var odd = new HttpRequestMessage(new(verb), $"{path}?Form.Acts=0&Form.Act=closed&Form.Reason=put_right");
            await manager.SendAsync(odd, IntakeBed.Ct);
        }

        using var bare = await manager.PostAsync(path,
            new FormUrlEncodedContent([new("Form.Acts", "0"), new("Form.Act", "seen")]), IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.BadRequest, bare.StatusCode);
        Assert.Equal(0, await bed.CountAsync("flag_acts"));
        Assert.Equal(["new 0"], await bed.ListAsync("select concat_ws(' ', state, acts, closed_on) from quality_findings"));
    }

    [Theory]
    [InlineData("Say it in a few words", "explained")]
    [InlineData("Say it in a few words", "acted", "Form.Day", "2026-11-20")]
    [InlineData("Give the day it was done", "acted", "Form.Words", "x", "Form.Day", "2026-11-26")]
    [InlineData("Give the day it was done", "acted", "Form.Words", "x", "Form.Day", "1999-01-01")]
    [InlineData("Give a day after today", "watched", "Form.Day", "2026-11-25")]
    [InlineData("Give a day after today", "watched", "Form.Day", "2036-11-25")]
    [InlineData("Choose a reason", "closed", "Form.Reason", "because")]
    [InlineData("The flag is open", "reopened")]
    [InlineData("Only the last act", "taken_back")]
    public async Task What_is_missing_is_said_and_nothing_is_kept(string says, string act, params string[] fields)
    {
        var (bed, id) = await StartAsync();
        await using var _ = bed;
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        using var sent = await SendAsync(manager, id, 0, act, [.. fields.Chunk(2).Select(f => (f[0], f[1]))]);
        Assert.Equal(HttpStatusCode.OK, sent.StatusCode);
        Assert.Contains(says, WebUtility.HtmlDecode(await sent.Content.ReadAsStringAsync(IntakeBed.Ct)), StringComparison.Ordinal);
        Assert.Equal(0, await bed.CountAsync("flag_acts"));
    }

    [Fact]
    public async Task Of_many_who_saw_the_same_state_one_acts_and_another_takes_nothing_back_that_is_not_theirs()
    {
        var (bed, id) = await StartAsync();
        await using var _ = bed;
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        using var second = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var answers = await Task.WhenAll(Enumerable.Range(0, 12).Select(async i =>
        {
            using var sent = await SendAsync(manager, id, 0, "explained", ("Form.Words", $"Explanation {i}"));
            return sent.StatusCode;
        }));
        Assert.Single(answers, a => a == HttpStatusCode.Redirect);
        Assert.Equal(11, answers.Count(a => a == HttpStatusCode.OK));
        Assert.Equal(["1"], await bed.ListAsync("select acts from quality_findings"));
        Assert.Equal(1, await bed.CountAsync("flag_acts"));

        using (var stale = await SendAsync(second, id, 0, "closed", ("Form.Reason", "nothing_found")))
            Assert.Contains("Somebody did something meanwhile", await stale.Content.ReadAsStringAsync(IntakeBed.Ct),
                StringComparison.Ordinal);
        using (var taken = await SendAsync(second, id, 1, "taken_back"))
            Assert.Contains("Only the last act can be taken back", await taken.Content.ReadAsStringAsync(IntakeBed.Ct),
                StringComparison.Ordinal);
        Assert.Equal(1, await bed.CountAsync("flag_acts"));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await DoneAsync(coordinator, id, 1, "taken_back");
        Assert.Equal(["new 2"], await bed.ListAsync("select concat_ws(' ', state, acts) from quality_findings"));
    }

    [Fact]
    public async Task A_closed_flag_is_not_reopened_beside_a_later_one_and_the_list_shows_each_where_it_belongs()
    {
        var (bed, id) = await StartAsync();
        await using var _ = bed;
        var old = await FlagBed.AddAsync(bed,
            FlagBed.Flag(bed.Harbour, found: new(2026, 6, 1), onset: new(2026, 5, 20), closed: new(2026, 6, 10)));
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Hill, "=HYPERLINK(1)"));
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        using (var sent = await SendAsync(manager, old, 0, "reopened"))
            Assert.Contains("raised again meanwhile", await sent.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Contains("Raised 1 Jun 2026", await TextAsync(manager, id), StringComparison.Ordinal);

        Assert.Equal(1, await RowsAsync(manager, "/flags"));
        Assert.Equal(1, await RowsAsync(manager, "/flags?show=new"));
        Assert.Equal(0, await RowsAsync(manager, "/flags?show=watched"));
        Assert.Equal(1, await RowsAsync(manager, "/flags?show=closed"));
        Assert.Equal(1, await RowsAsync(manager, "/flags?asOf=2026-06-05"));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Equal(2, await RowsAsync(coordinator, "/flags"));
        var csv = (await coordinator.GetStringAsync("/flags?handler=Csv", IntakeBed.Ct)).Trim().Split("\r\n");
        Assert.Equal(3, csv.Length);
        Assert.DoesNotContain(csv, l => l.Contains(",=HYPERLINK", StringComparison.Ordinal));
    }

    private async Task<(IntakeBed Bed, Guid Id)> StartAsync()
    {
        var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(FlagBed.Birth);
        return (bed, await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour)));
    }

    private static async Task<string> TextAsync(HttpClient client, Guid id) =>
        (await client.GetStringAsync($"/sites/harbour/flags/{id}", IntakeBed.Ct)).Replace("&#xA0;", " ", StringComparison.Ordinal);

    private static async Task<int> RowsAsync(HttpClient client, string path) =>
        (await client.GetStringAsync(path, IntakeBed.Ct)).Split("<th scope=\"row\">").Length - 1;

    private static Task<HttpResponseMessage> SendAsync(
        HttpClient client, Guid id, int acts, string act, params (string, string)[] fields) =>
        SignedIn.SendFormAsync(client, $"/sites/harbour/flags/{id}", [("Form.Acts", $"{acts}"), ("Form.Act", act), .. fields]);

    private static async Task DoneAsync(HttpClient client, Guid id, int acts, string act, params (string, string)[] fields)
    {
        using var sent = await SendAsync(client, id, acts, act, fields);
        Assert.Equal(HttpStatusCode.Redirect, sent.StatusCode);
        Assert.Equal($"/sites/harbour/flags/{id}", sent.Headers.Location!.OriginalString);
    }
}
