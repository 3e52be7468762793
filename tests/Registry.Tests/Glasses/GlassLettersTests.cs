using System.Text.RegularExpressions;
using Microsoft.Extensions.DependencyInjection;
using Registry.Glasses;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Outreach;

namespace Registry.Tests.Glasses;

/// <summary>The letters about a broken glass, as a mail server gets them.</summary>
public sealed class GlassLettersTests(TestDatabase database)
{
    [Fact]
    public async Task Coordinators_are_told_once_who_opened_a_record_and_never_whose()
    {
        await using var sink = new SmtpSink { RecipientAnswer = "450 try later" };
        await using var bed = await IntakeBed.StartAsync(database, RemindersTests.Smtp(sink));
        var coordinator = await bed.AddPersonAsync(Role.Coordinator);
        await bed.AddPersonAsync(Role.SiteManager, bed.Hill);
        await BreakGlassTests.OpenOneAsync(bed);

        // The mail server takes nothing for now: it is told later.
        Assert.Equal("told of 0 of 1 opened records", await TellAsync());
        Assert.Empty(sink.Received);
        sink.RecipientAnswer = "250 ok";
        Assert.Equal("told of 1 of 1 opened records", await TellAsync());
        Assert.Equal("no record was opened", await TellAsync());

        var (to, letter) = Assert.Single(sink.Received);
        Assert.Contains(coordinator.Email!, to, StringComparison.Ordinal);
        Assert.Contains("Subject: A record was opened by breaking the glass", letter, StringComparison.Ordinal);
        Assert.Contains("Screener, screener of Hill Audiology", letter, StringComparison.Ordinal);
        Assert.Contains("/glasses", letter, StringComparison.Ordinal);
        letter = Regex.Replace(letter, "(?m)^(To|Message-Id):.*$", ""); // letters of chance, which may spell a name
        foreach (var secret in (string[])["Marlow", "Ada", "CARD-1", "HARBOUR-1", "Rescreen today", "2026-09-01"])
            Assert.DoesNotContain(secret, letter, StringComparison.OrdinalIgnoreCase);

        async Task<string> TellAsync()
        {
            await using var scope = bed.App.Services.CreateAsyncScope();
            return await scope.ServiceProvider.GetRequiredService<TellOfGlasses>().RunAsync(IntakeBed.Ct);
        }
    }
}
