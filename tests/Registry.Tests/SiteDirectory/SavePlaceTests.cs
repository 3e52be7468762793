using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Access;
using Registry.Tests.Intake;

namespace Registry.Tests.SiteDirectory;

/// <summary>Sites, clinics and programs through their pages: typed, from a file, closed and continued.</summary>
public sealed class SavePlaceTests(TestDatabase database)
{
    private const string Header = "code,name,kind,county,contact_name,contact_phone,npi";

    [Fact]
    public async Task A_file_is_tried_first_and_saved_whole_or_not_at_all()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Administrator, null);
        const string wrong = $"{Header}\nharrow-point,Harrow Point,hospital,Lind,Ida Fell,555-0144,1234567893\n"
            + "Upper,Upper Hospital,hospital,Lind,,,\ntarn,Harrow Point,castle,Lind,,,1234567890\n";
        var tried = await TextAsync(client, "?handler=Try", wrong);
        Assert.Contains("small letters", tried, StringComparison.Ordinal);
        Assert.Contains("Another place has this name.", tried, StringComparison.Ordinal);
        Assert.Contains("Kinds are: hospital", tried, StringComparison.Ordinal);
        Assert.Contains("no National Provider Identifier", tried, StringComparison.Ordinal);
        Assert.DoesNotContain("Save 3", tried, StringComparison.Ordinal);
        await TextAsync(client, "?handler=Save", wrong);
        Assert.Equal(2, await bed.CountAsync("sites"));

        const string right = $"{Header}\nharrow-point,Harrow Point,hospital,Lind,Ida Fell,555-0144,1234567893\n"
            + "harbour,Harbour Hospital,hospital,Lind,Ona Reed,555-0145,\n";
        var good = await TextAsync(client, "?handler=Try", right);
        Assert.Contains("Save 2 places", good, StringComparison.Ordinal);
        Assert.Equal(2, await bed.CountAsync("sites"));
        await TextAsync(client, "?handler=Save", right);
        Assert.Equal(["Ona Reed"], await bed.ListAsync("select contact_name from sites where code = 'harbour'"));
        Assert.Equal(3, await bed.CountAsync("sites"));
        Assert.Equal(2, await bed.CountAsync("access_records where kind = 'place_changed'"));
    }

    [Fact]
    public async Task A_site_states_within_how_many_days_it_agreed_to_send()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Administrator, null);
        Assert.Contains("Whole days, 1 to 90.", await TextAsync(client, "?handler=Try", "code,arrival_days\nharbour,soon\n"),
            StringComparison.Ordinal);
        await TextAsync(client, "?handler=Save", "code,arrival_days\nharbour,14\n");
        Assert.Equal(["14"], await bed.ListAsync("select arrival_days from sites where code = 'harbour'"));
        Assert.Contains("name=\"arrival_days\" value=\"14\"", await client.GetStringAsync("/places/edit/harbour", IntakeBed.Ct),
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_is_taken_away_as_a_file_is_read_in_again_unchanged()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Administrator, null);
        await TextAsync(client, "?handler=Save",
            $"{Header}\nharrow-point,\"Harrow, Point\",hospital,Lind,Ida Fell,+1 555 0144,1234567893\n");
        var before = await bed.ListAsync("select sites::text from sites order by code");
        var csv = await client.GetStringAsync("/places?handler=csv", IntakeBed.Ct);
        await TextAsync(client, "?handler=Save", csv.Replace("'+1", "+1", StringComparison.Ordinal));
        var after = await bed.ListAsync("select sites::text from sites order by code");
        // but for who changed it last
        Assert.Equal(before.Select(Bare), after.Select(Bare));

        static string Bare(string row) => System.Text.RegularExpressions.Regex.Replace(row, "[0-9a-f-]{36}", "");
    }

    [Fact]
    public async Task Each_change_is_kept_with_who_made_it_whoever_asks_to_change_that()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await SignedIn.AsAsync(bed, Role.Administrator, null);
        using var answer = await EditAsync(client, "harbour", ("name", "Harbour Hospital"), ("kind", "hospital"), ("county", "Lind"),
            ("contact_name", "Ida Fell"), ("nicu", "yes"), ("care_level", "level_three"));
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        var page = await client.GetStringAsync("/places/edit/harbour", IntakeBed.Ct);
        Assert.Contains("Contact: nothing → Ida Fell", WebUtility.HtmlDecode(page), StringComparison.Ordinal);
        Assert.Contains("Administrator", page[page.IndexOf("History", StringComparison.Ordinal)..], StringComparison.Ordinal);
        await Assert.ThrowsAsync<Npgsql.PostgresException>(() => bed.ListAsync("delete from site_changes returning 1"));
        await Assert.ThrowsAsync<Npgsql.PostgresException>(() => bed.App.AsOwnerAsync("update site_changes set at = now()"));
    }

    [Fact]
    public async Task A_closed_site_sends_nothing_keeps_its_infants_and_who_continues_it_is_called()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync("kind,record_number,birth_date,sex\nbirth,H-1,2026-09-01,female\n");
        await using var scope = bed.App.Services.CreateAsyncScope();
        var (_, secret) = await scope.ServiceProvider.GetRequiredService<SiteKeys>().IssueAsync(bed.Harbour, "system", IntakeBed.Ct);
        var find = bed.App.Services.GetRequiredService<FindSiteKey>();
        Assert.NotNull(await find.ForAsync(secret));
        using var client = await SignedIn.AsAsync(bed, Role.Administrator, null);
        await TextAsync(client, "?handler=Save", $"{Header}\nnew-harbour,New Harbour,hospital,Lind,Ona Reed,555-0146,\n");
        using (var open = await EditAsync(client, "harbour", ("name", "Harbour Hospital"), ("kind", "hospital"), ("county", "Lind"),
            ("continued_by", "new-harbour")))
            Assert.Contains("say when it closed", await open.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        using (var later = await EditAsync(client, "harbour", ("name", "Harbour Hospital"), ("kind", "hospital"), ("county", "Lind"),
            ("closed_on", "2027-01-01")))
            Assert.Contains("Close it on the day or after", await later.Content.ReadAsStringAsync(IntakeBed.Ct), StringComparison.Ordinal);
        using (var closed = await EditAsync(client, "harbour", ("name", "Harbour Hospital"), ("kind", "hospital"), ("county", "Lind"),
            ("closed_on", "2026-11-25"), ("continued_by", "new-harbour")))
            Assert.Equal(HttpStatusCode.Redirect, closed.StatusCode);

        Assert.Null(await find.ForAsync(secret));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var list in new[] { "/infants", "/follow-up?tray=search_again" })
        {
            var text = await coordinator.GetStringAsync(list, IntakeBed.Ct);
            Assert.Contains("H-1", text, StringComparison.Ordinal);
            Assert.Contains("closed, now New Harbour", text, StringComparison.Ordinal);
            Assert.Contains("Ona Reed, 555-0146", text, StringComparison.Ordinal);
        }

        var infant = (await bed.ListAsync("select id from infants"))[0];
        var record = await coordinator.GetStringAsync($"/infants/{infant}", IntakeBed.Ct);
        Assert.Contains("Ona Reed, 555-0146", record, StringComparison.Ordinal);
    }

    private static async Task<string> TextAsync(HttpClient client, string handler, string text)
    {
        using var answer = await SessionsTests.PostAsync(client, "/places/file", handler, ("Text", text));
        return WebUtility.HtmlDecode(await answer.Content.ReadAsStringAsync(IntakeBed.Ct));
    }

    private static Task<HttpResponseMessage> EditAsync(HttpClient client, string code, params (string, string)[] fields) =>
        SessionsTests.PostAsync(client, $"/places/edit/{code}", "", fields);
}
