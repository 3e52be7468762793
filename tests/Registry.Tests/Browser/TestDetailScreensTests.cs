using Registry.Records;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;
using Registry.Tests.Intake.Rows;

namespace Registry.Tests.Browser;

/// <summary>
/// A record with corrected, retracted and measured tests, and the site's page beside its criterion, in a real browser at desk and phone
/// width: the chart is drawn, nothing overflows, no script breaks. <c>REGISTRY_SCREENSHOTS=1</c> keeps what was seen in docs/screens.
/// </summary>
public sealed class TestDetailScreensTests(TestDatabase database, Chromium chromium)
{
    private const string Rows = """
        action,kind,record_number,birth_date,birth_time,sex,infant_given_name,infant_family_name,mother_given_name,mother_family_name,ear,outcome,reason,method,performed_at,instrument,probe,stimulus,duration_seconds,artefacts_rejected,ear_canal_volume_ml,ambient_noise_db,bands
        ,birth,A1,2026-11-01,04:41,female,Tamsin,Marlow,Ada,Marlow,,,,,,,,,,,,,
        ,screening,A1,,,,,,,,right,refer,,dpoae,2026-11-02T09:15,ward 2,P4,65/55 dB SPL,41.5,12,0.42,58,2000:-4.5:-6.2;3000:1.3:-9;4000:-8.1:-11.5:3.4;5000:2.2:-12.6
        ,screening,A1,,,,,,,,left,pass,,dpoae,2026-11-02T09:20,ward 2,P4,65/55 dB SPL,22,3,0.38,49,2000:8.1:-6.2:14.3;3000:5:-9;4000:9.4:-11.5;5000:7.7:-12.6
        ,screening,A1,,,,,,,,right,pass,,dpoae,2026-11-02T10:05,ward 2,P4,65/55 dB SPL,37,21,0.4,55,2000:8.1:6.2;3000:5:3;4000:9.4:1.5;5000:::7.5
        ,screening,A1,,,,,,,,left,pass,,dpoae,2026-11-02T10:10,ward 2,P4,,,,,,
        ,birth,A2,2026-11-03,08:02,male,,,Bea,Quist,,,,,,,,,,,,,
        ,screening,A2,,,,,,,,right,pass,,dpoae,2026-11-04T09:20,ward 2,P4,,,,,,2000:8:-2;3000:5:-9;4000:9:-6
        ,screening,A2,,,,,,,,left,refer,,dpoae,2026-11-04T09:25,ward 2,P4,,,,,,2000:8:-2;3000:5:-9;4000:9:-6
        """;

    [Fact]
    public async Task A_record_shows_what_was_measured_corrected_and_retracted()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await TestDetailRowsTests.StateCriterionAsync(bed);
        await bed.SendAsync(Rows + "\n", at: bed.Now.AddDays(-9));
        await bed.SendAsync("""
            action,kind,record_number,ear,outcome,method,performed_at,instrument,bands
            correct,screening,A1,right,refer,dpoae,2026-11-02T10:05,ward 2,2000:8.1:6.2;3000:5:3;4000:9.4:1.5;5000:::7.5
            retract,screening,A1,left,,,2026-11-02T10:10,,

            """, at: bed.Now.AddDays(-6));
        var manager = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        var infant = (await bed.ListAsync("select infant_id from infant_identifiers where value = 'A1'"))[0];
        foreach (var phone in new[] { false, true })
        {
            var page = await chromium.OpenAsync(bed.App.Address, phone);
            var broken = new List<string>();
            page.PageError += (_, error) => broken.Add(error);
            await page.GotoAsync("/sign-in");
            await page.Locator("#sign-in input[type=email]").FillAsync(manager.Email!);
            await page.Locator("#sign-in input[type=password]").FillAsync(IntakeBed.Password);
            await page.Locator("#sign-in button[type=submit]").ClickAsync();
            await page.WaitForURLAsync(url => !url.Contains("/sign-in", StringComparison.Ordinal));
            foreach (var (path, name) in new[]
            {
                ($"/infants/{infant}", "infant-measured"), ("/sites/harbour?from=2026-11-01&to=2026-11-25", "site-criterion"),
                ("/sites/harbour/tests?from=2026-11-01&to=2026-11-25&show=differs", "site-tests-criterion"),
            })
            {
                await page.GotoAsync(path);
                if (name == "infant-measured")
                {
                    await page.Locator("figure[data-chart=bands] svg").First.WaitForAsync();
                    Assert.True(await page.EvaluateAsync<bool>(
                        "[...document.querySelectorAll('.bands table')].every(t => t.parentElement.scrollWidth <= "
                            + "t.parentElement.clientWidth)"), "A table of bands is cut off.");
                    Assert.Equal(2, await page.Locator(".time-line > li.superseded .what").CountAsync());
                }

                Assert.True(await page.EvaluateAsync<bool>("document.documentElement.scrollWidth <= document.documentElement.clientWidth"),
                    $"{name} overflows");
                if (Environment.GetEnvironmentVariable("REGISTRY_SCREENSHOTS") == "1")
                    await page.ScreenshotAsync(
                        new()
                        {
                            Path = Path.Combine(SourceTree.Root, $"docs/screens/{name}-{(phone ? "phone" : "desktop")}.png"),
                            FullPage = true
                        });
            }

            Assert.Empty(broken);
        }
    }
}
