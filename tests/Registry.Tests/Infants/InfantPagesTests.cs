using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Reporting.Measures;

namespace Registry.Tests.Infants;

public sealed partial class InfantPagesTests(TestDatabase database)
{
    /// <summary>Sixty births at Harbour; every tenth refers, and one was never screened.</summary>
    private static async Task<IntakeBed> StartAsync(TestDatabase database, Dictionary<string, string?>? settings = null)
    {
        var bed = await IntakeBed.StartAsync(database, settings);
        var rows = new System.Text.StringBuilder(
            "kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at\n");
        for (var i = 1; i <= 60; i++)
        {
            var day = new DateOnly(2026, 6, 1).AddDays(i % 15);
            rows.Append(FormattableString.Invariant($"birth,H-{i:000},{day:yyyy-MM-dd},female,Ada{i},Marlow{i},1995-02-03,,,,\n"));
            if (i == 60) continue;
            foreach (var ear in new[] { "right", "left" })
            {
                var outcome = i % 10 == 0 && ear == "left" ? "refer" : "pass";
                rows.Append(FormattableString.Invariant(
                    $"screening,H-{i:000},,,,,,{ear},{outcome},aabr,{day.AddDays(1):yyyy-MM-dd}T09:15\n"));
            }
        }

        await bed.SendAsync(rows.ToString(), at: new DateTimeOffset(2026, 6, 20, 9, 0, 0, TimeSpan.Zero));
        return bed;
    }

    [Theory]
    [InlineData("/infants?sort=born")]
    [InlineData("/infants?sort=-born")]
    [InlineData("/infants?sort=due")]
    [InlineData("/infants?sort=-due")]
    [InlineData("/infants?sort=site")]
    public async Task Paging_shows_every_infant_once_in_every_order(string path)
    {
        await using var bed = await StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var seen = new List<string>();
        for (var next = path; next is not null;)
        {
            var page = await client.GetStringAsync(next, IntakeBed.Ct);
            seen.AddRange(RecordNumber().Matches(page).Select(m => m.Groups[1].Value));
            next = NextPage().Match(page) is { Success: true } link ? WebUtility.HtmlDecode(link.Groups[1].Value) : null;
            Assert.InRange(seen.Count, 1, 60);
        }

        Assert.Equal(60, seen.Count);
        Assert.Equal(60, seen.Distinct().Count());
    }

    /// <summary>Counting costs what is counted: a region's children are counted so far and no further, unless somebody asks.</summary>
    [Fact]
    public async Task Very_many_are_counted_only_when_asked()
    {
        await using var bed = await StartAsync(database, new() { ["Infants:CountedTo"] = "51" });
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var page = await client.GetStringAsync("/infants?sort=born", IntakeBed.Ct);
        Assert.Contains("<strong>More than 51 infants</strong>", page, StringComparison.Ordinal);
        Assert.Contains("50 of more than 51 infants on this page", page, StringComparison.Ordinal);
        page = await client.GetStringAsync(WebUtility.HtmlDecode(CountAll().Match(page).Groups[1].Value), IntakeBed.Ct);
        Assert.Contains("<strong>60 infants</strong>", page, StringComparison.Ordinal);
        Assert.Contains("50 of 60 infants on this page", page, StringComparison.Ordinal);
        page = await client.GetStringAsync("/infants?from=2026-06-04", IntakeBed.Ct); // 48
        Assert.Contains("<strong>48 infants</strong>", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Count them all", page, StringComparison.Ordinal);

        // Who sees none is told of none, however far is counted.
        var stranger = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Hill);
        foreach (var path in new[] { "/infants", "/infants?count=all" })
            Assert.Contains("<strong>0 infants</strong>", await stranger.GetStringAsync(path, IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task Every_number_of_the_overview_leads_to_as_many_infants()
    {
        await using var bed = await StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var overview = await client.GetStringAsync("/", IntakeBed.Ct);
        var links = CountLink().Matches(overview);
        Assert.InRange(links.Count, 20, 100);
        foreach (Match link in links)
        {
            var href = WebUtility.HtmlDecode(link.Groups[1].Value);
            var list = await client.GetStringAsync(href, IntakeBed.Ct);
            var total = Total().Match(list).Groups[1].Value;
            // "12" or "12 of 340": a share links to its denominator, a count to itself.
            var parts = link.Groups[2].Value.Split(" of ");
            Assert.True(parts[^1] == total, $"{href} says {link.Groups[2].Value} and lists {total}");
        }
    }

    [Fact]
    public async Task A_past_day_shows_what_was_known_then()
    {
        await using var bed = await StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        Assert.Contains("60 infants", await client.GetStringAsync("/infants?asOf=2026-06-20", IntakeBed.Ct), StringComparison.Ordinal);
        var before = await client.GetStringAsync("/infants?asOf=2026-06-19", IntakeBed.Ct);
        Assert.Contains("0 infants", before, StringComparison.Ordinal);
        Assert.Contains("as it was known then", before, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_cannot_be_read_of_a_question_is_said()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var unread = await client.GetStringAsync("/infants?asOf=tomorrow&milestone=walked", IntakeBed.Ct);
        Assert.Contains("was not understood", unread, StringComparison.Ordinal);
        Assert.Contains("is not one of: screened, diagnosed, enrolled", unread, StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_contact_attempt_is_shown_in_the_record()
    {
        await using var bed = await StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var id = await OverdueAsync(bed);
        await RecordAsync(client, id, "UnableToContact", "2026-11-20");
        Assert.Contains("Contact about diagnosis", await client.GetStringAsync($"/infants/{id}", IntakeBed.Ct), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_contact_attempt_taken_back_counts_no_more_and_stays_readable()
    {
        await using var bed = await StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var id = await OverdueAsync(bed);
        await RecordAsync(client, id, "UnableToContact", "2026-11-20");
        var fact = (await CurrentContactsAsync(bed)).Single();
        await PostAsync(client, $"/infants/{id}?handler=TakeBack", $"/infants/{id}", ("factId", fact));
        Assert.Empty(await CurrentContactsAsync(bed));
        Assert.Contains("no longer held true", await client.GetStringAsync($"/infants/{id}", IntakeBed.Ct), StringComparison.Ordinal);
        Assert.Equal("lost_to_documentation", await LossAsync(bed, id));
    }

    [Fact]
    public async Task A_contact_attempt_of_a_day_to_come_is_refused()
    {
        await using var bed = await StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var id = await OverdueAsync(bed);
        using var refused = await PostAsAsync(client, $"/infants/{id}?handler=Contact", $"/infants/{id}", ("Step", "Screening"),
            ("Outcome", "Reached"), ("AttemptedOn", "2026-12-24"), ("Channel", "Mail"), ("Note", "Neighbor answered"));
        Assert.Equal(HttpStatusCode.UnprocessableEntity, refused.StatusCode);
        var page = WebUtility.HtmlDecode(await refused.Content.ReadAsStringAsync(IntakeBed.Ct));
        foreach (var said in new[] { "lies in the future", "Neighbor answered", "value=\"2026-12-24\"", "<details class=\"log\" open" })
            Assert.Contains(said, page, StringComparison.Ordinal);
        foreach (var chosen in new[] { "Reached", "Mail", "Screening" })
            Assert.Matches($"value=\"{chosen}\"[^>]*(checked|selected)", page);
        Assert.Empty(await CurrentContactsAsync(bed));
    }

    /// <summary>Somebody booked while the form was open: what was typed stands in it again, with what is booked now.</summary>
    [Fact]
    public async Task A_call_logged_beside_a_new_booking_is_refused_and_not_lost()
    {
        await using var bed = await StartAsync(database);
        var client = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        var id = await OverdueAsync(bed);
        await RecordAsync(client, id, "AppointmentMade", "2026-11-20", ("AppointmentOn", "2026-12-03"), ("AppointmentSite", "hill"));
        (string, string)[] typed = [("Step", "Diagnosis"), ("Outcome", "AppointmentMade"), ("AttemptedOn", "2026-11-21"),
            ("AppointmentOn", "2026-12-09"), ("AppointmentPlace", "Room 9"), ("AppointmentSite", "hill"), ("Note", "Asks for mornings")];
        using var stale = await PostAsAsync(client, $"/infants/{id}?handler=Contact", $"/infants/{id}", typed);
        Assert.Equal(HttpStatusCode.Conflict, stale.StatusCode);
        var page = WebUtility.HtmlDecode(await stale.Content.ReadAsStringAsync(IntakeBed.Ct));
        foreach (var said in new[] { "Asks for mornings", "Room 9", "value=\"2026-12-09\"", "name=\"BookedOn\" value=\"2026-12-03\"" })
            Assert.Contains(said, page, StringComparison.Ordinal);
        Assert.Single(await CurrentContactsAsync(bed));
        await PostAsync(client, $"/infants/{id}?handler=Contact", $"/infants/{id}", [.. typed, ("BookedOn", "2026-12-03")]);
        Assert.Equal(2, (await CurrentContactsAsync(bed)).Count);
    }

    [Fact]
    public async Task A_contact_attempt_about_another_sites_infant_finds_nobody()
    {
        await using var bed = await StartAsync(database);
        var stranger = await SignedIn.AsAsync(bed, Role.Screener, bed.Hill);
        var answer = await PostAsAsync(stranger, $"/infants/{await OverdueAsync(bed)}?handler=Contact", "/policy", ("Step", "Diagnosis"),
            ("Outcome", "Reached"), ("AttemptedOn", "2026-11-20"));
        Assert.Equal(HttpStatusCode.NotFound, answer.StatusCode);
        Assert.Empty(await CurrentContactsAsync(bed));
    }

    /// <summary>An infant whose diagnosis is overdue, and about whom nobody reported since.</summary>
    private static async Task<string> OverdueAsync(IntakeBed bed)
    {
        var id = (await bed.ListAsync("select infant_id from infant_status where diagnosed_state = 'missed' limit 1"))[0];
        Assert.Equal("lost_to_documentation", await LossAsync(bed, id));
        return id;
    }

    private static async Task<string> LossAsync(IntakeBed bed, string infant) =>
        (await bed.ListAsync($"select loss from infant_status where infant_id = '{infant}'"))[0];

    private static Task<List<string>> CurrentContactsAsync(IntakeBed bed) =>
        bed.ListAsync("select id from contacts where superseded_at is null");

    private static Task RecordAsync(HttpClient client, string infant, string outcome, string on, params (string, string)[] more) =>
        PostAsync(client, $"/infants/{infant}?handler=Contact", $"/infants/{infant}",
            [("Step", "Diagnosis"), ("Outcome", outcome), ("AttemptedOn", on), .. more]);

    private static async Task PostAsync(HttpClient client, string to, string from, params (string, string)[] fields) =>
        Assert.Equal(HttpStatusCode.Redirect, (await PostAsAsync(client, to, from, fields)).StatusCode);

    private static async Task<HttpResponseMessage> PostAsAsync(HttpClient client, string to, string from,
        params (string Name, string Value)[] fields)
    {
        var token = await SignedIn.TokenAsync(client, from);
        return await client.PostAsync(to, new FormUrlEncodedContent(
            [.. fields.Select(f => KeyValuePair.Create(f.Name, f.Value)), new("__RequestVerificationToken", token)]), IntakeBed.Ct);
    }

    [GeneratedRegex("href=\"([^\"]+)\">Count them all")]
    private static partial Regex CountAll();

    [GeneratedRegex("""<a href="/infants/[0-9a-f-]{36}">(H-\d+)</a>""")]
    private static partial Regex RecordNumber();

    [GeneratedRegex("""<a class="button" rel="next" href="([^"]+)""")]
    private static partial Regex NextPage();

    [GeneratedRegex("""<a href="((?:/infants|/follow-up)\?[^"]+)">(?:<strong>)?([\d,]+(?: of [\d,]+)?)<""")]
    private static partial Regex CountLink();

    [GeneratedRegex("""<strong>([\d,]+) infants?</strong>""")]
    private static partial Regex Total();
}
