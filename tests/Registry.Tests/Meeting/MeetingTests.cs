using System.Net;
using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.FollowUp;
using Registry.Intake.HeldRows;
using Registry.Records;
using Registry.Rules;
using Registry.Tests.FollowUp;
using Registry.Tests.Intake;
using Registry.Tests.SiteQuality.Flags;

namespace Registry.Tests.Meeting;

/// <summary>What a team talks about once a week. Today is Wednesday, 25 November 2026; its week began on the 23rd.</summary>
public sealed partial class MeetingTests(TestDatabase database)
{
    [Fact]
    public async Task Every_number_opens_a_list_of_as_many()
    {
        await using var bed = await StartAsync();
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await coordinator.GetStringAsync("/meeting", IntakeBed.Ct);
        var numbers = Numbers(page);
        Assert.Equal(["newly_lost 1", "lost_before 1", "hand_off_overdue 1",
                "appointment_missed 1", "found_again 1", "diagnosed_in_time 1"],
            numbers.Select(n => $"{n.Topic} {n.Count}"));
        foreach (var (topic, count, href) in numbers)
        {
            var list = await coordinator.GetStringAsync(href, IntakeBed.Ct);
            Assert.Equal(count, Line().Count(list));
            Assert.Contains($"<strong>{count}</strong>", list, StringComparison.Ordinal);
        }

        foreach (var name in new[] { "Lost", "Told", "Handed", "Missed", "Found", "Seen" })
            Assert.Contains("Ada " + name, page, StringComparison.Ordinal);
        // Who looked at whom is on record, by name and by list.
        var seen = await WorkBed.IdAsync(bed, "W-4");
        Assert.True(await bed.CountAsync($"access_records where kind = 'read' and action like '%meeting%' and '{seen}' = any (infants)") >= 2);
    }

    /// <summary>Nobody is good news by dying, moving away or being lost further on.</summary>
    [Fact]
    public async Task Found_again_is_who_came_and_nobody_else()
    {
        await using var bed = await StartAsync();
        await Sql(bed, "update loss_findings set recovered_on = '2026-11-24', recovered_as = 'declined' where recovered_on is null");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var found = Numbers(await coordinator.GetStringAsync("/meeting", IntakeBed.Ct)).Single(n => n.Topic == "found_again");
        Assert.Equal(1, found.Count); // W-4 and W-8 declined
    }

    [Fact]
    public async Task The_week_before_is_as_it_was_and_the_way_back_leads_there()
    {
        await using var bed = await StartAsync();
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await coordinator.GetStringAsync("/meeting", IntakeBed.Ct);
        Assert.Contains("href=\"/meeting?asOf=2026-11-22\"", page, StringComparison.Ordinal);
        Assert.DoesNotContain("rel=\"next\"", page, StringComparison.Ordinal);
        var before = await coordinator.GetStringAsync("/meeting?asOf=2026-11-22", IntakeBed.Ct);
        Assert.Equal(["newly_lost 1", "lost_before 0", "hand_off_overdue 0",
                "appointment_missed 0", "found_again 0", "diagnosed_in_time 0"],
            Numbers(before).Select(n => $"{n.Topic} {n.Count}")); // W-6 was lost on the 18th and found on the 24th
        Assert.Contains("Ada Found", before, StringComparison.Ordinal);
        Assert.Contains("rel=\"next\" href=\"/meeting\"", before, StringComparison.Ordinal);
        Assert.Contains("Rows of a past day have no list here", before, StringComparison.Ordinal);
        Assert.Contains($"By the rules of policy {Policy.Default.Version}, as known at the end of 22 Nov 2026.", before,
            StringComparison.Ordinal);
    }

    /// <summary>The first night of a registry finds whom it lost in all the months before: nobody is new by that, and each week has its
    /// own.</summary>
    [Fact]
    public async Task What_the_first_night_finds_is_of_the_weeks_in_which_it_was()
    {
        await using var bed = await WorkBed.StartAsync(database, rows: WorkBed.Family("W-1", "2026-01-10", "Old")
            + WorkBed.Family("W-2", "2026-02-20", "Older"));
        await bed.App.Services.GetRequiredService<FindLossToFollowUp>().RunAsync(IntakeBed.Ct);
        var lost = await bed.ListAsync("select lost_on::text from loss_findings where step = 'diagnosis' order by 1");
        Assert.Equal(2, lost.Count);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var today = await coordinator.GetStringAsync("/meeting", IntakeBed.Ct);
        Assert.All(Numbers(today), n => Assert.Equal(0, n.Count));
        Assert.Contains("kept night by night since 25 Nov 2026", today, StringComparison.Ordinal);
        foreach (var (day, name) in new[] { (lost[0], "Ada Old"), (lost[1], "Ada Older") })
        {
            var week = await coordinator.GetStringAsync("/meeting?asOf=" + day, IntakeBed.Ct);
            var newly = Numbers(week).Single(n => n.Topic == "newly_lost");
            Assert.Equal(1, newly.Count);
            Assert.Contains(name + "<", await coordinator.GetStringAsync(newly.Href, IntakeBed.Ct), StringComparison.Ordinal);
            Assert.Equal(0, Numbers(week).Single(n => n.Topic == "lost_before").Count);
        }
    }

    /// <summary>A refer told months late: in the week it is told the infant is lost since long, and the week in which it was lost stays as
    /// it was known. An evaluation told late takes nobody out of the week before.</summary>
    [Fact]
    public async Task What_is_told_late_changes_no_week_that_is_over_and_is_talked_about_when_it_is_told()
    {
        await using var bed = await WorkBed.StartAsync(database, rows: WorkBed.Family("W-1", "2026-01-10", "Old"));
        await bed.App.Services.GetRequiredService<FindLossToFollowUp>().RunAsync(IntakeBed.Ct);
        var lost = (await bed.ListAsync("select lost_on::text from loss_findings where step = 'diagnosis'"))[0];
        var next = new DateOnly(2026, 12, 2);
        await using var app = RegistryApp.On(
            bed.App.Logins.Owner!, new Dictionary<string, string?> { ["Access:AllowHttp"] = "true" }, next);
        var later = await IntakeBed.OnAsync(app);
        await WorkBed.SendAsync(later, WorkBed.Family("W-2", "2026-01-12", "Late"));
        await later.SendAsync("kind,record_number,evaluated_on,right_finding,left_finding\ndiagnosis,W-1,2026-03-10,normal,normal\n");
        await app.Services.GetRequiredService<FindLossToFollowUp>().RunAsync(IntakeBed.Ct);
        using var coordinator = await SignedIn.AsAsync(later, Role.Coordinator, null);
        var week = await coordinator.GetStringAsync("/meeting", IntakeBed.Ct);
        Assert.Equal(["newly_lost 0", "lost_before 1", "hand_off_overdue 0",
                "appointment_missed 0", "found_again 1", "diagnosed_in_time 0"],
            Numbers(week).Select(n => $"{n.Topic} {n.Count}"));
        var before = Numbers(week).Single(n => n.Topic == "lost_before");
        Assert.Contains("Ada Late", await coordinator.GetStringAsync(before.Href, IntakeBed.Ct), StringComparison.Ordinal);
        var then = await coordinator.GetStringAsync("/meeting?asOf=" + lost, IntakeBed.Ct);
        var newly = Numbers(then).Single(n => n.Topic == "newly_lost");
        Assert.Equal(1, newly.Count);
        var list = await coordinator.GetStringAsync(newly.Href, IntakeBed.Ct);
        Assert.Contains("Ada Old", list, StringComparison.Ordinal);
        Assert.DoesNotContain("Ada Late", list, StringComparison.Ordinal);
        // The evaluation of March was in time, and not known in March.
        var march = await coordinator.GetStringAsync("/meeting?asOf=2026-03-15", IntakeBed.Ct);
        Assert.Equal(0, Numbers(march).Single(n => n.Topic == "diagnosed_in_time").Count);
    }

    [Fact]
    public async Task Flags_and_waiting_rows_are_those_of_their_own_lists()
    {
        await using var bed = await StartAsync();
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, "P7", found: new(2026, 11, 24)));
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, "P8", found: new(2026, 10, 1)));
        await bed.SendAsync("kind,record_number,ear,outcome,method,performed_at\nscreening,NOBODY,right,pass,aabr,2026-09-01T10:00\n",
            at: new(2026, 9, 2, 12, 0, 0, TimeSpan.Zero));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = WebUtility.HtmlDecode(await coordinator.GetStringAsync("/meeting", IntakeBed.Ct));
        var flags = Href(page, "Flags raised and open");
        Assert.Equal((1, "/flags?show=open&since=2026-11-23"), flags);
        var list = await coordinator.GetStringAsync(flags.Href, IntakeBed.Ct);
        Assert.Contains("P7", list, StringComparison.Ordinal);
        Assert.DoesNotContain(" P8", list, StringComparison.Ordinal);
        Assert.Equal(0, Href(page, "Flags closed").Count);
        foreach (var (words, href) in new[]
        {
            ("Held or rejected", "/submissions/held"), ("For more than 30 days", "/submissions/held?age=older"),
        })
        {
            var rows = Href(page, words);
            Assert.Equal((1, href), rows);
            Assert.Contains("1 of 1 row", await coordinator.GetStringAsync(rows.Href, IntakeBed.Ct), StringComparison.Ordinal);
        }

        Assert.Equal((0, "/submissions/held?held=awaits_confirmation"),
            Href(page, "Held until somebody confirms that the site cares for the infant"));
    }

    /// <summary>A row waited until it settled itself, another until somebody discarded it; a third came after the week.</summary>
    [Fact]
    public async Task Rows_that_wait_are_those_of_the_end_of_the_week_beside_the_week_before()
    {
        await using var bed = await StartAsync();
        DateTimeOffset On(int month, int day) => new(2026, month, day, 12, 0, 0, TimeSpan.Zero);
        string Test(string number) => "kind,record_number,ear,outcome,method,performed_at\n"
            + $"screening,{number},right,pass,aabr,2026-10-01T10:00\n";
        await bed.SendAsync(Test("COMES"), at: On(11, 12));
        var discarded = await bed.SendAsync(Test("GONE"), at: On(10, 2));
        await bed.SendAsync(Test("NEW"), at: On(11, 24));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        async Task<string> ThenAsync(string day) => string.Join("; ", Regex.Matches(
            WebUtility.HtmlDecode(await coordinator.GetStringAsync("/meeting?asOf=" + day, IntakeBed.Ct)),
            @"<li>(Held or rejected|For more than 30 days):\s*<\w+[^>]*>(\d+)</\w+>\s*\(at the end of the week before (\d+)\)")
            .Select(m => $"{m.Groups[2]} {m.Groups[3]}"));
        Assert.Equal("3 2; 1 1", await ThenAsync("2026-11-25")); // GONE waits for more than 30 days
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,COMES,2026-09-30,female\n", at: On(11, 25));
        var by = (await bed.AddPersonAsync(Role.Coordinator)).Id;
        Assert.Null(await bed.App.Services.GetRequiredService<DecideRow>().DiscardAsync(discarded, 1, new(by), IntakeBed.Ct));
        Assert.Equal(1, await bed.CountAsync("held_rows where resolution = 'applied' and record_number = 'COMES'"));
        Assert.Equal(1, await bed.CountAsync("held_rows where resolution = 'discarded' and record_number = 'GONE'"));
        Assert.Equal("1 2; 0 1", await ThenAsync("2026-11-25"));
        Assert.Equal("2 2; 1 1", await ThenAsync("2026-11-22")); // as it was, whatever was settled since
        Assert.Equal("1 1; 0 0", await ThenAsync("2026-11-01"));
        // Another site's rows are nobody's business.
        var other = await bed.AddSiteAsync("elsewhere", SiteKind.Hospital);
        using var stranger = await SignedIn.AsAsync(bed, Role.SiteManager, other);
        Assert.Equal((0, "/submissions/held"), Href(await stranger.GetStringAsync("/meeting", IntakeBed.Ct), "Held or rejected"));
    }

    /// <summary>A site talks about its own infants; whoever answers for no site sees no flag; nobody learns of another's by
    /// asking.</summary>
    [Fact]
    public async Task Another_sites_infants_are_in_no_number_and_no_list()
    {
        await using var bed = await StartAsync();
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, "P7", found: new(2026, 11, 24)));
        var other = await bed.AddSiteAsync("elsewhere", SiteKind.Hospital);
        using var stranger = await SignedIn.AsAsync(bed, Role.SiteManager, other);
        foreach (var path in new[] { "/meeting", "/meeting?asOf=2026-11-22", "/meeting?site=harbour" })
        {
            var page = await stranger.GetStringAsync(path, IntakeBed.Ct);
            Assert.All(Numbers(page), n => Assert.Equal(0, n.Count));
            Assert.DoesNotContain("Ada ", page, StringComparison.Ordinal);
            Assert.DoesNotContain(" P7", page, StringComparison.Ordinal);
            foreach (var (_, _, href) in Numbers(page))
                Assert.DoesNotContain("Ada ", await stranger.GetStringAsync(href, IntakeBed.Ct), StringComparison.Ordinal);
        }

        using var own = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Equal(6, Numbers(await own.GetStringAsync("/meeting", IntakeBed.Ct)).Sum(n => n.Count));
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        Assert.DoesNotContain("Flags raised", await screener.GetStringAsync("/meeting", IntakeBed.Ct), StringComparison.Ordinal);
        using var epidemiologist = await SignedIn.AsAsync(bed, Role.Epidemiologist, null);
        Assert.Equal(HttpStatusCode.Redirect, (await epidemiologist.GetAsync("/meeting", IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await own.GetAsync("/meeting/list?topic=everybody", IntakeBed.Ct)).StatusCode);
    }

    /// <summary>One of each topic: W-4 newly lost, W-8 lost long ago and told now, W-5 handed off in silence, W-3 did not come, W-6 found
    /// again, W-7 diagnosed in time.</summary>
    private async Task<IntakeBed> StartAsync()
    {
        var bed = await WorkBed.StartAsync(database, rows: WorkBed.Family("W-3", "2026-10-01", "Missed")
            + WorkBed.Family("W-4", "2026-01-10", "Lost") + WorkBed.Family("W-5", "2026-10-20", "Handed")
            + WorkBed.Family("W-6", "2026-01-20", "Found") + WorkBed.Family("W-7", "2026-10-10", "Seen")
            + WorkBed.Family("W-8", "2026-01-25", "Told") + WorkBed.Family("W-9", "2025-06-25", "First"));
        await bed.SendAsync("kind,record_number,evaluated_on,right_finding,left_finding\ndiagnosis,W-7,2026-11-24,normal,normal\n"
            + "diagnosis,W-6,2026-11-24,normal,normal\n");
        await bed.SendAsync("kind,record_number,step,appointment,happened_on,appointment_on\n"
            + "appointment,W-3,diagnosis,made,2026-11-10,2026-11-24\nappointment,W-3,diagnosis,no_show,2026-11-24,2026-11-24\n");
        await Sql(bed,
            $"""
            insert into loss_findings (id, infant_id, step, loss, lost_on, found_on, recovered_on, recovered_as) values
              (gen_random_uuid(), '{await WorkBed.IdAsync(bed, "W-4")}', 'diagnosis', 'lost_to_documentation', '2026-11-24', '2026-11-24', null, null),
              (gen_random_uuid(), '{await WorkBed.IdAsync(bed, "W-8")}', 'diagnosis', 'lost_to_documentation', '2026-09-24', '2026-11-24', null, null),
              (gen_random_uuid(), '{await WorkBed.IdAsync(bed, "W-9")}', 'diagnosis', 'lost_to_documentation', '2026-02-24', '2026-03-01', null, null),
              (gen_random_uuid(), '{await WorkBed.IdAsync(bed, "W-6")}', 'diagnosis', 'lost_to_documentation', '2026-11-18', '2026-11-18', '2026-11-24',
                'completed')
            """);
        var sender = await bed.AddPersonAsync(Role.Coordinator);
        await Sql(bed,
            $"""
            insert into hand_offs (id, infant_id, kind, step, to_site_id, sent_at, sent_by, sent_as, sent_for_site_id, acknowledge_by, state, form_key)
            values (gen_random_uuid(), '{await WorkBed.IdAsync(bed, "W-5")}', 'clinic', 'diagnosis', '{bed.Hill}', '2026-11-15 12:00Z',
              '{sender.Id}', 'coordinator', '{bed.Harbour}', '2026-11-22', 'sent', gen_random_uuid())
            """);
        return bed;
    }

    private static async Task Sql(IntakeBed bed, string sql)
    {
        await using var command = bed.Source.CreateCommand(sql);
        await command.ExecuteNonQueryAsync(IntakeBed.Ct);
    }

    private static List<(string Topic, int Count, string Href)> Numbers(string page) =>
        [.. Number().Matches(page).Select(m => (m.Groups["topic"].Value, int.Parse(m.Groups["count"].Value, null),
            WebUtility.HtmlDecode(m.Groups["href"].Value)))];

    private static (int Count, string Href) Href(string page, string words)
    {
        var match = Regex.Match(page, $"{words}:\\s*<a href=\"([^\"]+)\">(\\d+)</a>");
        Assert.True(match.Success, words);
        return (int.Parse(match.Groups[2].Value, null), match.Groups[1].Value);
    }

    [GeneratedRegex("""<h3>[^<]+: <a href="(?<href>/meeting/list\?topic=(?<topic>\w+)[^"]*)">(?<count>\d+)</a></h3>""")]
    private static partial Regex Number();

    [GeneratedRegex("""<th scope="row"><a href="/infants/""")]
    private static partial Regex Line();
}
