using System.Net;
using System.Text;
using Microsoft.Extensions.DependencyInjection;
using MimeKit;
using Registry.Records;
using Registry.SiteQuality.Monthly;
using Registry.Tests.FollowUp;
using Registry.Tests.Intake;
using Registry.Tests.Outreach;

namespace Registry.Tests.SiteQuality.Monthly;

/// <summary>The one-page report of a site: whose result is missing, and the monthly letter. Today is 25 November 2026: it tells of
/// October.</summary>
public sealed class MailSiteReportsTests(TestDatabase database) : IAsyncDisposable
{
    private readonly SmtpSink _sink = new();

    public ValueTask DisposeAsync() => _sink.DisposeAsync();

    [Fact]
    public async Task Who_wants_it_is_told_once_a_month_and_nobody_else()
    {
        await using var bed = await StartAsync();
        var manager = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        await bed.AddPersonAsync(Role.Coordinator);
        Assert.Equal("0 letters about site reports left, 0 did not", await RunAsync(bed));
        using var client = await InAsync(bed, manager);
        Assert.Equal(HttpStatusCode.Redirect, (await PressAsync(client, "Want")).StatusCode);
        await PressAsync(client, "Want"); // twice is once
        Assert.Equal("1 letters about site reports left, 0 did not", await RunAsync(bed));
        Assert.Equal("0 letters about site reports left, 0 did not", await RunAsync(bed));
        var letter = Assert.Single(Letters());
        Assert.Equal(manager.Email, letter.To.Mailboxes.Single().Address);
        Assert.Contains("/sites/harbour/report?from=2026-10-01&to=2026-10-31", letter.TextBody, StringComparison.Ordinal);
        Assert.All(new[] { "Ada", "Marlow", "Quist", "W-1", "2026-10-10", "555-" },
            word => Assert.DoesNotContain(word, letter.ToString(), StringComparison.Ordinal));

        // The link asks for signing in.
        using var nobody = SignedIn.Nobody(bed);
        using var closed = await nobody.GetAsync("/sites/harbour/report?from=2026-10-01&to=2026-10-31", IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.Redirect, closed.StatusCode);
    }

    [Fact]
    public async Task It_stops_when_it_is_stopped_and_when_somebody_no_longer_manages_the_site()
    {
        await using var bed = await StartAsync();
        var manager = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        using var client = await InAsync(bed, manager);
        await PressAsync(client, "Want");
        await PressAsync(client, "Stop");
        Assert.Equal("0 letters about site reports left, 0 did not", await RunAsync(bed));
        await PressAsync(client, "Want");
        await using (var update = bed.Source.CreateCommand($"update people set site_id = '{bed.Hill}' where id = '{manager.Id}'"))
            await update.ExecuteNonQueryAsync(IntakeBed.Ct);
        Assert.Equal("0 letters about site reports left, 0 did not", await RunAsync(bed));
        Assert.Empty(Letters());
    }

    [Fact]
    public async Task What_did_not_leave_is_tried_again()
    {
        _sink.RecipientAnswer = "450 try later";
        await using var bed = await StartAsync();
        using var client = await InAsync(bed, await bed.AddPersonAsync(Role.SiteManager, bed.Harbour));
        await PressAsync(client, "Want");
        Assert.Equal("0 letters about site reports left, 1 did not", await RunAsync(bed));
        _sink.RecipientAnswer = "250 ok";
        Assert.Equal("1 letters about site reports left, 0 did not", await RunAsync(bed));
        Assert.Single(_sink.Received);
    }

    /// <summary>A file in a folder reaches nobody: what a server would have sent is still to be sent when there is one.</summary>
    [Fact]
    public async Task Without_a_mail_server_nobody_counts_as_told()
    {
        await using var bed = await StartAsync(server: false);
        using var client = await InAsync(bed, await bed.AddPersonAsync(Role.SiteManager, bed.Harbour));
        await PressAsync(client, "Want");
        Assert.Equal("no mail server is set: no letter about a site report left", await RunAsync(bed));
        Assert.Equal(0, await bed.CountAsync("site_report_mails"));
    }

    /// <summary>Nobody subscribes for another site, or as somebody who does not manage it.</summary>
    [Fact]
    public async Task Nobody_asks_for_another_sites_letters()
    {
        await using var bed = await StartAsync();
        var other = await bed.AddSiteAsync("elsewhere", SiteKind.Hospital);
        foreach (var (role, site) in new (Role, SiteId?)[]
        {
            (Role.SiteManager, other), (Role.Screener, bed.Harbour), (Role.AudiologyClinic, bed.Hill), (Role.Coordinator, null),
        })
        {
            using var client = await SignedIn.AsAsync(bed, role, site);
            Assert.Equal(HttpStatusCode.NotFound, (await SignedIn.SendFormAsync(client, "/sites/harbour/report?handler=Want")).StatusCode);
        }

        Assert.Equal(0, await bed.CountAsync("site_report_requests"));
    }

    [Fact]
    public async Task The_report_names_whose_result_is_missing_to_the_sites_people_and_counts_as_many_as_its_list()
    {
        await using var bed = await StartAsync();
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        var page = WebUtility.HtmlDecode(await manager.GetStringAsync("/sites/harbour/report", IntakeBed.Ct));
        var match = System.Text.RegularExpressions.Regex.Match(page, "Missing results: <a href=\"([^\"]+)\">(\\d+)</a>");
        Assert.Equal("1", match.Groups[2].Value);
        Assert.Contains("Ada Lost", page, StringComparison.Ordinal);
        Assert.DoesNotContain("Marlow", page, StringComparison.Ordinal); // due later
        Assert.Contains("Thank you for the", page, StringComparison.Ordinal);
        Assert.Contains("1 infant", await manager.GetStringAsync(match.Groups[1].Value, IntakeBed.Ct), StringComparison.Ordinal);
        var lost = await WorkBed.IdAsync(bed, "W-4");
        Assert.Equal(1, await bed.CountAsync($"access_records where kind = 'read' and action like '%report%' and '{lost}' = any (infants)"));
        using var stranger = await SignedIn.AsAsync(bed, Role.SiteManager, await bed.AddSiteAsync("elsewhere", SiteKind.Hospital));
        Assert.Equal(HttpStatusCode.NotFound, (await stranger.GetAsync("/sites/harbour/report", IntakeBed.Ct)).StatusCode);
    }

    private static Task<HttpResponseMessage> PressAsync(HttpClient client, string button) =>
        SignedIn.SendFormAsync(client, $"/sites/harbour/report?handler={button}");

    private static async Task<HttpClient> InAsync(IntakeBed bed, Person person)
    {
        var client = SignedIn.Nobody(bed);
        await SignedIn.PostAsync(client, person, IntakeBed.Password);
        return client;
    }

    private async Task<IntakeBed> StartAsync(bool server = true)
    {
        var settings = server ? RemindersTests.Smtp(_sink) : new() { ["Outreach:Folder"] = RegistryApp.NewOutbox() };
        var bed = await IntakeBed.StartAsync(database, settings);
        await WorkBed.SendAsync(bed, WorkBed.Family("W-1", "2026-10-10", "Marlow")
            + WorkBed.Family("W-2", "2026-10-10", "Quist", bothEars: true)
            + WorkBed.Family("W-4", "2026-01-10", "Lost"));
        return bed;
    }

    private static async Task<string> RunAsync(IntakeBed bed)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        return await scope.ServiceProvider.GetRequiredService<MailSiteReports>().RunAsync(IntakeBed.Ct);
    }

    private List<MimeMessage> Letters() =>
        _sink.Received.ConvertAll(r => MimeMessage.Load(new MemoryStream(Encoding.UTF8.GetBytes(r.Message))));
}
