using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
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
        Assert.Equal(["newly_lost 1", "hand_off_overdue 1", "appointment_missed 1", "found_again 1", "diagnosed_in_time 1"],
            numbers.Select(n => $"{n.Topic} {n.Count}"));
        foreach (var (topic, count, href) in numbers)
        {
            var list = await coordinator.GetStringAsync(href, IntakeBed.Ct);
            Assert.Equal(count, Line().Count(list));
            Assert.Contains($"<strong>{count}</strong>", list, StringComparison.Ordinal);
        }

        foreach (var name in new[] { "Lost", "Handed", "Missed", "Found", "Seen" })
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
        await Sql(bed, "update loss_findings set recovered_on = '2026-11-24' where recovered_on is null");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var found = Numbers(await coordinator.GetStringAsync("/meeting", IntakeBed.Ct)).Single(n => n.Topic == "found_again");
        Assert.Equal(1, found.Count); // W-4 is as lost as before in its status
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
        Assert.Equal(["newly_lost 1", "hand_off_overdue 0", "appointment_missed 0", "found_again 0", "diagnosed_in_time 0"],
            Numbers(before).Select(n => $"{n.Topic} {n.Count}")); // W-6 was lost on the 18th and found on the 24th
        Assert.Contains("Ada Found", before, StringComparison.Ordinal);
        Assert.Contains("rel=\"next\" href=\"/meeting\"", before, StringComparison.Ordinal);
        Assert.Contains("Rows that wait are counted today only.", before, StringComparison.Ordinal);
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
        Assert.DoesNotContain("P8", list, StringComparison.Ordinal);
        Assert.Equal(0, Href(page, "Flags closed").Count);
        var rows = Href(page, "Held or rejected for more than 30 days");
        Assert.Equal((1, "/submissions/held?age=older"), rows);
        Assert.Contains("1 of 1 row", await coordinator.GetStringAsync(rows.Href, IntakeBed.Ct), StringComparison.Ordinal);
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
            Assert.DoesNotContain("P7", page, StringComparison.Ordinal);
            foreach (var (_, _, href) in Numbers(page))
                Assert.DoesNotContain("Ada ", await stranger.GetStringAsync(href, IntakeBed.Ct), StringComparison.Ordinal);
        }

        using var own = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        Assert.Equal(5, Numbers(await own.GetStringAsync("/meeting", IntakeBed.Ct)).Sum(n => n.Count));
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        Assert.DoesNotContain("Flags raised", await screener.GetStringAsync("/meeting", IntakeBed.Ct), StringComparison.Ordinal);
        using var epidemiologist = await SignedIn.AsAsync(bed, Role.Epidemiologist, null);
        Assert.Equal(HttpStatusCode.Redirect, (await epidemiologist.GetAsync("/meeting", IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await own.GetAsync("/meeting/list?topic=everybody", IntakeBed.Ct)).StatusCode);
    }

    /// <summary>One of each topic: W-4 newly lost, W-5 handed off in silence, W-3 did not come, W-6 found again, W-7 diagnosed in
    /// time.</summary>
    private async Task<IntakeBed> StartAsync()
    {
        var bed = await WorkBed.StartAsync(database, rows: WorkBed.Family("W-3", "2026-10-01", "Missed")
            + WorkBed.Family("W-4", "2026-01-10", "Lost") + WorkBed.Family("W-5", "2026-10-20", "Handed")
            + WorkBed.Family("W-6", "2026-01-20", "Found") + WorkBed.Family("W-7", "2026-10-10", "Seen"));
        await bed.SendAsync("kind,record_number,evaluated_on,right_finding,left_finding\ndiagnosis,W-7,2026-11-24,normal,normal\n"
            + "diagnosis,W-6,2026-11-24,normal,normal\n");
        await bed.SendAsync("kind,record_number,step,appointment,happened_on,appointment_on\n"
            + "appointment,W-3,diagnosis,made,2026-11-10,2026-11-24\nappointment,W-3,diagnosis,no_show,2026-11-24,2026-11-24\n");
        await Sql(bed,
            $"""
            insert into loss_findings (id, infant_id, step, loss, found_on, recovered_on) values
              (gen_random_uuid(), '{await WorkBed.IdAsync(bed, "W-4")}', 'diagnosis', 'lost_to_documentation', '2026-11-24', null),
              (gen_random_uuid(), '{await WorkBed.IdAsync(bed, "W-6")}', 'diagnosis', 'lost_to_documentation', '2026-11-18', '2026-11-24')
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
        var match = Regex.Match(page, $"{words}: <a href=\"([^\"]+)\">(\\d+)</a>");
        Assert.True(match.Success, words);
        return (int.Parse(match.Groups[2].Value, null), match.Groups[1].Value);
    }

    [GeneratedRegex("""<h3>[^<]+: <a href="(?<href>/meeting/list\?topic=(?<topic>\w+)[^"]*)">(?<count>\d+)</a></h3>""")]
    private static partial Regex Number();

    [GeneratedRegex("""<th scope="row"><a href="/infants/""")]
    private static partial Regex Line();
}
