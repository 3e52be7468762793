using System.Text;
using Microsoft.Extensions.DependencyInjection;
using MimeKit;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality.Equipment;
using Registry.SiteQuality.Flags;
using Registry.Tests.Intake;
using Registry.Tests.Outreach;

namespace Registry.Tests.SiteQuality.Flags;

/// <summary>Once a week, to who answers for a site: counts and a link. Today is Wednesday, 25 November 2026; the week before ends on
/// Sunday,
/// the 22nd.</summary>
public sealed class MailFlagDigestTests(TestDatabase database) : IAsyncDisposable
{
    private readonly SmtpSink _sink = new();

    public ValueTask DisposeAsync() => _sink.DisposeAsync();

    [Fact]
    public async Task A_manager_and_a_coordinator_get_counts_once_a_week_and_nobody_else_gets_anything()
    {
        await using var bed = await StartAsync();
        var manager = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        await bed.AddPersonAsync(Role.SiteManager, bed.Hill);
        await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        Assert.Equal("0 letters about flags left, 0 did not", await RunAsync(bed)); // nothing to say is not said
        Assert.Empty(Letters());

        var coordinator = await bed.AddPersonAsync(Role.Coordinator);
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, "SCREENER-7", cause: CauseKind.Screener));
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, "P8", found: new(2026, 10, 1)));
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, "P7", found: new(2026, 10, 1), closed: new(2026, 11, 18)));
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, "P6", found: new(2026, 10, 1), closed: new(2026, 11, 10)));
        await CalibrateAsync(bed, "I-4711", new(2025, 12, 1));
        await CalibrateAsync(bed, "I-4712", new(2026, 6, 1));
        Assert.Equal("2 letters about flags left, 0 did not", await RunAsync(bed));
        Assert.Equal("0 letters about flags left, 0 did not", await RunAsync(bed));
        var letters = Letters();
        Assert.Equal(new[] { coordinator.Email, manager.Email }.Order(), letters.Select(l => l.To.Mailboxes.Single().Address).Order());
        foreach (var text in letters.Select(l => l.TextBody))
        {
            Assert.Contains("new last week: 1", text, StringComparison.Ordinal);
            Assert.Contains("nothing was done yet: 2", text, StringComparison.Ordinal);
            Assert.Contains("closed last week: 1", text, StringComparison.Ordinal);
            Assert.Contains("or over: 1", text, StringComparison.Ordinal);
            Assert.Contains("/flags", text, StringComparison.Ordinal);
            Assert.All(new[] { "SCREENER", "P8", "P7", "I-47" }, name => Assert.DoesNotContain(name, text, StringComparison.Ordinal));
        }

        Assert.Equal(2, await bed.CountAsync("flag_digests where week = date '2026-11-23'"));
    }

    /// <summary>The week's meeting has a page: its link comes with the letter, and nothing of the week itself.</summary>
    [Fact]
    public async Task A_coordinator_gets_the_link_to_the_weeks_meeting_flags_or_not()
    {
        await using var bed = await StartAsync();
        await bed.AddPersonAsync(Role.Coordinator);
        Assert.Equal("1 letters about flags left, 0 did not", await RunAsync(bed));
        Assert.Equal("0 letters about flags left, 0 did not", await RunAsync(bed));
        var text = Assert.Single(Letters()).TextBody;
        Assert.Contains("/meeting", text, StringComparison.Ordinal);
        Assert.Contains("nothing new, nothing open", text, StringComparison.Ordinal);
    }

    /// <summary>Raised by last week's job from tests of the summer that came late: new last week. And what was to be looked at today is
    /// due today.</summary>
    [Fact]
    public async Task What_a_late_result_raised_is_new_and_what_is_watched_until_today_is_due()
    {
        await using var bed = await StartAsync();
        await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour, found: new(2026, 7, 1), recorded: new(2026, 11, 19)));
        foreach (var (name, day) in new[] { ("P1", bed.App.Today), ("P2", bed.App.Today.AddDays(1)) })
        {
            var watched = FlagBed.Flag(bed.Harbour, name, found: new(2026, 10, 1));
            (watched.State, watched.WatchedUntil) = (FlagState.Watched, day);
            await FlagBed.AddAsync(bed, watched);
        }

        Assert.Equal("1 letters about flags left, 0 did not", await RunAsync(bed));
        var text = Assert.Single(Letters()).TextBody;
        Assert.Contains("new last week: 1", text, StringComparison.Ordinal);
        Assert.Contains("watched until a day that has come: 1", text, StringComparison.Ordinal);
        FlagStanding until = new(FlagState.Watched, bed.App.Today, null, null);
        Assert.EndsWith("look again", FlagWords.Of(until, bed.App.Today), StringComparison.Ordinal);
        Assert.DoesNotContain("look again", FlagWords.Of(until, bed.App.Today.AddDays(-1)), StringComparison.Ordinal);
    }

    [Fact]
    public async Task What_did_not_leave_is_tried_again_and_what_left_is_not()
    {
        _sink.RecipientAnswer = "450 try later";
        await using var bed = await StartAsync();
        await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour));
        Assert.Equal("0 letters about flags left, 1 did not", await RunAsync(bed));
        Assert.Equal(0, await bed.CountAsync("flag_digests"));
        _sink.RecipientAnswer = "250 ok";
        Assert.Equal("1 letters about flags left, 0 did not", await RunAsync(bed));
        Assert.Equal("0 letters about flags left, 0 did not", await RunAsync(bed));
        Assert.Single(_sink.Received);
    }

    /// <summary>A file in a folder reaches nobody: what a server would have sent is still to be sent when there is one.</summary>
    [Fact]
    public async Task Without_a_mail_server_nobody_counts_as_told()
    {
        await using var bed = await StartAsync(server: false);
        await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        await FlagBed.AddAsync(bed, FlagBed.Flag(bed.Harbour));
        Assert.Equal("no mail server is set: no letter about flags left", await RunAsync(bed));
        Assert.Equal(0, await bed.CountAsync("flag_digests"));
    }

    private static async Task CalibrateAsync(IntakeBed bed, string name, DateOnly day)
    {
        await using var db = bed.App.OpenDb();
        db.EquipmentEvents.Add(new()
        {
            Id = Guid.CreateVersion7(),
            SiteId = bed.Harbour,
            Unit = QualityUnitKind.Instrument,
            Name = name,
            Kind = EquipmentEventKind.Calibrated,
            Day = day,
            RecordedAt = bed.Now,
            RecordedBy = (await bed.AddPersonAsync(Role.Screener, bed.Harbour)).Id,
        });
        await db.SaveChangesAsync(IntakeBed.Ct);
    }

    private async Task<IntakeBed> StartAsync(bool server = true)
    {
        var settings = server ? RemindersTests.Smtp(_sink) : new() { ["Outreach:Folder"] = RegistryApp.NewOutbox() };
        return await IntakeBed.StartAsync(database, settings);
    }

    private static async Task<string> RunAsync(IntakeBed bed)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        return await scope.ServiceProvider.GetRequiredService<MailFlagDigest>().RunAsync(IntakeBed.Ct);
    }

    private List<MimeMessage> Letters() =>
        _sink.Received.ConvertAll(r => MimeMessage.Load(new MemoryStream(Encoding.UTF8.GetBytes(r.Message))));
}
