using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Intake.Rows;

namespace Registry.Tests.Browser;

/// <summary>
/// A record with corrected, retracted and measured tests, and the site's page beside its criterion, in a real browser at desk and phone
/// width: the chart is drawn, nothing overflows, no script breaks.
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

    public static readonly TheoryData<bool> Phone = [false, true];

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task A_record_shows_what_was_measured_corrected_and_retracted(bool phone)
    {
        await using var bed = await SentAsync();
        var infant = (await bed.ListAsync("select infant_id from infant_identifiers where value = 'A1'"))[0];
        var page = await SignInAsync(bed, phone);
        await page.GotoAsync($"/infants/{infant}");
        await page.Locator("figure[data-chart=bands] svg:visible").First.WaitForAsync();
        Assert.True(await page.EvaluateAsync<bool>(
            "[...document.querySelectorAll('.bands table')].every(t => t.parentElement.scrollWidth <= t.parentElement.clientWidth)"),
            "A table of bands is cut off.");
        Assert.Equal(2, await page.Locator(".time-line > li.superseded .what").CountAsync());
        await page.SeeHereAsync("infant-measured", whole: true);
    }

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task A_site_is_shown_beside_its_own_criterion(bool phone)
    {
        await using var bed = await SentAsync();
        var page = await SignInAsync(bed, phone);
        await page.GotoAsync("/sites/harbour?from=2026-11-01&to=2026-11-25");
        await page.SeeHereAsync("site-criterion", whole: true);
        await page.GotoAsync("/sites/harbour/tests?from=2026-11-01&to=2026-11-25&show=differs");
        await page.SeeHereAsync("site-tests-criterion", whole: true);
    }

    private async Task<IPage> SignInAsync(IntakeBed bed, bool phone)
    {
        var manager = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        return await SignedIn.OpenAsync(chromium, bed.App, manager.Email!, phone: phone);
    }

    private async Task<IntakeBed> SentAsync()
    {
        var bed = await IntakeBed.StartAsync(database, listen: true);
        await TestDetailRowsTests.StateCriterionAsync(bed);
        await bed.SendAsync(Rows + "\n", at: bed.Now.AddDays(-9));
        await bed.SendAsync("""
            action,kind,record_number,ear,outcome,method,performed_at,instrument,bands
            correct,screening,A1,right,refer,dpoae,2026-11-02T10:05,ward 2,2000:8.1:6.2;3000:5:3;4000:9.4:1.5;5000:::7.5
            retract,screening,A1,left,,,2026-11-02T10:10,,

            """, at: bed.Now.AddDays(-6));
        return bed;
    }
}
