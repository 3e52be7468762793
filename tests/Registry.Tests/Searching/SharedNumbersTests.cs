using System.Net;
using System.Text.RegularExpressions;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.Intake;

namespace Registry.Tests.Searching;

/// <summary>The search page shows each number once, with whose it is and in how many records; what many share comes last and is called so.
/// </summary>
public sealed partial class SharedNumbersTests(TestDatabase database)
{
    private const string Births = "kind,record_number,birth_date,sex,infant_given_name,mother_given_name,mother_family_name,mother_birth_date,contact_phone,contact_email\n";
    private const string Family = "kind,record_number,relation,person_name,contact_phone,other_phone,may_be_told\n";

    [Fact]
    public async Task A_number_stands_once_with_whose_it_is_and_in_how_many_records()
    {
        await using var bed = await WorkBed.StartAsync(database, rows: WorkBed.Family("W-4", "2026-01-10", "Lost", phone: "555-0177"));
        await bed.SendAsync(Births + "birth,S-1,2024-05-01,male,Tom,Beth,Aunt,1990-01-01,(555) 0177,Aunt@family.example\n"
            + "birth,S-2,2022-05-01,male,Ben,Beth,Aunt,1990-01-01,555 0177,aunt@family.example\n");
        await bed.SendAsync(Family + "family_contact,W-4,father,Finn Lost,555-0178,555-0177,\nfamily_contact,S-1,grandparent,Ida Aunt,555-0178,,\n");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var ways = await WaysAsync(coordinator, await WorkBed.IdAsync(bed, "W-4"));
        Assert.Equal(["555-0177", "555-0178", "aunt@family.example"],
            ways.Select(w => w.Number.ToLowerInvariant()).Order(StringComparer.Ordinal));
        var shared = ways.Single(w => w.Number == "555-0177").Said;
        foreach (var said in new[] { "in 3 records", "as recorded now", "Mother, Ada Lost", "Father, Finn Lost",
            "Mother, Beth Aunt; of Tom: perhaps a brother or sister", "of Ben: perhaps a brother or sister" })
            Assert.Contains(said, shared, StringComparison.Ordinal);
        Assert.Contains("in 2 records", ways.Single(w => w.Number == "555-0178").Said, StringComparison.Ordinal);
        Assert.Contains("Grandparent, Ida Aunt; of Tom", ways.Single(w => w.Number == "555-0178").Said, StringComparison.Ordinal);
        Assert.Contains("in 2 records", ways.Single(w => w.Number.Contains('@')).Said, StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_many_share_is_last_says_so_and_makes_nobody_a_relative()
    {
        await using var bed = await WorkBed.StartAsync(database, rows: WorkBed.Family("W-4", "2026-01-10", "Lost", phone: "555-0100"));
        await bed.SendAsync(Births + string.Concat(Enumerable.Range(0, 60).Select(i =>
            $"birth,M-{i},2026-0{1 + (i % 8)}-1{i % 9},male,Child{i},Given{i},Family{i},199{i % 10}-03-0{1 + (i % 9)},555-0100,\n")));
        await bed.SendAsync(Family + "family_contact,W-4,grandparent,Ida Berg,555-0301,,\n", at: bed.Now.AddDays(-3));
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        var infant = await WorkBed.IdAsync(bed, "W-4");
        var ways = await WaysAsync(coordinator, infant);
        Assert.Equal(["555-0301", "555-0100"], ways.Select(w => w.Number));
        Assert.Contains("shared by many: in 7 records or more", ways[1].Said, StringComparison.Ordinal);
        Assert.Contains("Mother, Ada Lost", ways[1].Said, StringComparison.Ordinal);
        var page = await coordinator.GetStringAsync($"/infants/{infant}/search", IntakeBed.Ct);
        Assert.DoesNotContain("Child1", page, StringComparison.Ordinal);
        Assert.Contains("tel:5550100", page, StringComparison.Ordinal);

        // One more is few where the program says so.
        await using var bed2 = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Searching:SharedByMany"] = "1" });
        await bed2.SendAsync(Births + "birth,A-1,2026-01-10,male,Tom,Beth,Aunt,1990-01-01,555-0100,\nbirth,A-2,2026-02-10,male,Ben,Zoe,Quist,1991-01-01,555-0100,\n");
        using var other = await SignedIn.AsAsync(bed2, Role.Coordinator, null);
        Assert.Contains("in 2 records or more", Assert.Single(await WaysAsync(other, await WorkBed.IdAsync(bed2, "A-1"))).Said,
            StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_site_counts_only_records_it_sees_and_no_number_of_who_may_not_be_told_is_pressed()
    {
        await using var bed = await WorkBed.StartAsync(database, rows: WorkBed.Family("W-4", "2026-01-10", "Lost", phone: "555-0177"));
        var tarn = await bed.AddSiteAsync("tarn", SiteKind.Hospital);
        await bed.SendAsync(Births + "birth,T-1,2024-05-01,male,Tom,Beth,Aunt,1990-01-01,555-0177,\n", tarn);
        await bed.SendAsync(Family + "family_contact,W-4,mother,,,,no\nfamily_contact,W-4,grandparent,Ida Berg,555-0301,,\n");
        var infant = await WorkBed.IdAsync(bed, "W-4");
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var ways = await WaysAsync(manager, infant);
        foreach (var theirs in new[] { "records", "Tom" })
            Assert.DoesNotContain(ways, w => w.Said.Contains(theirs, StringComparison.Ordinal));
        Assert.Equal(2, ways.Count);
        var page = await manager.GetStringAsync($"/infants/{infant}/search", IntakeBed.Ct);
        Assert.DoesNotContain("tel:", Reported(page), StringComparison.Ordinal);
    }

    private static string Reported(string page) =>
        page.Split("Reported at any time")[1].Split("</section>")[0];

    private static async Task<List<(string Number, string Said)>> WaysAsync(HttpClient client, string infant)
    {
        var page = WebUtility.HtmlDecode(await client.GetStringAsync($"/infants/{infant}/search", IntakeBed.Ct));
        return [.. Reported(page).Split("<li>").Skip(1).Select(li => (Number().Match(li).Groups[1].Value.Trim(), li))];
    }

    [GeneratedRegex("<(?:a class=\"dial\"[^>]*|strong)>([^<]+)<")]
    private static partial Regex Number();
}
