using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Browser;

/// <summary>An audiologist's evaluation, typed by keyboard in a real browser at desk and phone width, and seen on the record: drawn, in its
/// table, dark and on paper.</summary>
public sealed class EvaluationScreensTests(TestDatabase database, Chromium chromium)
{
    private const string Rows =
        """
        kind,record_number,birth_date,sex,infant_given_name,infant_family_name,mother_given_name,mother_family_name,mother_birth_date,ear,outcome,method,performed_at
        birth,H-1,2026-03-02,female,Ilse,Marlow,Ada,Marlow,1995-02-03,,,,
        screening,H-1,,,,,,,,right,refer,aabr,2026-03-03T09:15
        screening,H-1,,,,,,,,left,pass,aabr,2026-03-03T09:20

        """;

    public static readonly TheoryData<bool> Phone = [false, true];

    [Theory]
    [MemberData(nameof(Phone))]
    public async Task An_evaluation_is_typed_looked_at_again_saved_and_drawn(bool phone)
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync(Rows, at: bed.Now.AddDays(-20));
        var infant = (await bed.ListAsync("select id from infants"))[0];
        var person = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: phone);
        await page.GotoAsync($"/infants/{infant}/enter/diagnosis");
        await TypeLevelsAsync(page);
        await page.SeeHereAsync("evaluation-form", whole: true);
        // The levels are seen whole, on a phone too: nothing is to be pushed aside while typing.
        Assert.Equal("0 0", await page.EvaluateAsync<string>(
            "[...document.querySelectorAll('.levels')].map(t => t.parentElement.scrollWidth - t.parentElement.clientWidth).join(' ')"));

        // What is suggested is said, and nothing is chosen.
        await page.GetByRole(AriaRole.Button, new() { Name = "Suggest from the thresholds" }).ClickAsync();
        await page.GetByText("Right ear: average of 500, 1,000, 2,000 Hz 47 dB HL: moderate (41 to 55; Clark 1981)").WaitForAsync();
        Assert.Equal("", await page.GetByLabel("Right ear: degree").InputValueAsync());
        await page.GetByLabel("Right ear: finding").SelectOptionAsync("sensorineural");
        await page.GetByLabel("Right ear: degree").SelectOptionAsync("mild");
        await page.GetByLabel("Left ear: finding").SelectOptionAsync("normal");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();

        // What does not fit, and what is missing, is asked before it is saved.
        await page.GetByText("Right ear: degree: look again: the degree is not the band").WaitForAsync();
        await page.GetByText("Earphones: look again: which earphones were used is not stated").WaitForAsync();
        await page.SeeHereAsync("evaluation-asked", whole: true);
        await page.GetByLabel("Right ear: degree").SelectOptionAsync("moderate");
        await page.GetByLabel("Earphones").SelectOptionAsync("insert_earphones");
        await page.GetByRole(AriaRole.Button, new() { Name = "Save" }).ClickAsync();
        await page.ArriveAsync("*/entered/*");
        await page.GetByRole(AriaRole.Link, new() { Name = "Open the record" }).ClickAsync();
        await page.ArriveAsync($"*/infants/{infant}");
        await SeeAudiogramAsync(page);
        await page.SeeHereAsync("evaluation-record", whole: true);
        Assert.Empty(await Axe.LookAsync(page));
        Assert.Equal(["moderate 500:45;1000:45;2000:50;4000:>110 500:10 SiteManager"], await bed.ListAsync(
            "select concat_ws(' ', d.right_degree, t.right_air, t.left_air, d.evaluator) from diagnoses d join evaluation_details t on "
                + "t.diagnosis_id = d.id where d.superseded_at is null"));

        // How one tests comes again by itself, and what was found does not.
        await page.GotoAsync($"/infants/{infant}/enter/diagnosis");
        Assert.Equal("visual_reinforcement", await page.GetByLabel("Behavioral method").InputValueAsync());
        Assert.Equal("", await page.GetByLabel("Right ear, air, 500 Hz").InputValueAsync());
    }

    /// <summary>Two people evaluate at the same time: the second is shown what the first recorded, and neither is lost.</summary>
    [Theory]
    [MemberData(nameof(Phone))]
    public async Task What_another_recorded_meanwhile_is_shown_beside_what_was_typed(bool phone)
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        await bed.SendAsync(Rows, at: bed.Now.AddDays(-20));
        var infant = (await bed.ListAsync("select id from infants"))[0];
        var person = await bed.AddPersonAsync(Role.SiteManager, bed.Harbour);
        var page = await SignedIn.OpenAsync(chromium, bed.App, person.Email!, phone: phone);
        await page.GotoAsync($"/infants/{infant}/enter/diagnosis");
        await TypeLevelsAsync(page);
        await page.GetByLabel("Right ear: finding").SelectOptionAsync("sensorineural");
        await page.GetByLabel("Left ear: finding").SelectOptionAsync("normal");
        await bed.SendAsync("kind,record_number,evaluated_on,right_finding,left_finding,right_degree\n"
            + "diagnosis,H-1,2026-11-20,conductive,normal,mild\n", at: bed.Now.AddMinutes(-1));
        await page.GetByRole(AriaRole.Button, new() { Name = "Save", Exact = true }).ClickAsync();

        await page.GetByText("Something was recorded since you opened this form.").WaitForAsync();
        Assert.Contains("conductive", await page.Locator(".banner").First.InnerTextAsync(), StringComparison.OrdinalIgnoreCase);
        Assert.Equal("45", await page.GetByLabel("Right ear, air, 1,000 Hz").InputValueAsync());
        Assert.Equal("sensorineural", await page.GetByLabel("Right ear: finding").InputValueAsync());
        await page.SeeHereAsync("evaluation-conflict", whole: true);
        Assert.Equal(["conductive"], await FindingsAsync(bed));

        await page.GetByRole(AriaRole.Button, new() { Name = "Save", Exact = true }).ClickAsync();
        await page.GetByText("Save it all the same").ClickAsync();
        await page.GetByRole(AriaRole.Button, new() { Name = "Save", Exact = true }).ClickAsync();
        await page.ArriveAsync("*/entered/*");
        Assert.Equal(["conductive", "sensorineural"], await FindingsAsync(bed));
    }

    private static Task<List<string>> FindingsAsync(IntakeBed bed) =>
        bed.ListAsync("select right_finding from diagnoses where superseded_at is null order by 1");

    /// <summary>By the keys alone, from the first cell on.</summary>
    private static async Task TypeLevelsAsync(IPage page)
    {
        await page.GetByLabel("Behavioral method").SelectOptionAsync("visual_reinforcement");
        await page.GetByLabel("Right ear, air, 500 Hz").FocusAsync();
        foreach (var (level, steps) in new[] { ("45", 2), ("45", 2), ("50", 2), (">110", 0) })
        {
            await page.Keyboard.TypeAsync(level);
            for (var step = 0; step < steps; step++) await page.Keyboard.PressAsync("ArrowDown");
        }

        for (var step = 0; step < 6; step++) await page.Keyboard.PressAsync("ArrowUp");
        await page.Keyboard.PressAsync("ArrowRight");
        await page.Keyboard.PressAsync("ArrowRight");
        await page.Keyboard.TypeAsync("40m");
        await page.Keyboard.PressAsync("ArrowRight");
        await page.Keyboard.TypeAsync("10");
        Assert.Equal("45", await page.GetByLabel("Right ear, air, 1,000 Hz").InputValueAsync());
        Assert.Equal(">110", await page.GetByLabel("Right ear, air, 4,000 Hz").InputValueAsync());
        Assert.Equal("40m", await page.GetByLabel("Right ear, bone, 500 Hz").InputValueAsync());
        Assert.Equal("10", await page.GetByLabel("Left ear, air, 500 Hz").InputValueAsync());
    }

    private static async Task SeeAudiogramAsync(IPage page)
    {
        var audiogram = page.GetByRole(AriaRole.Img, new() { Name = "Audiogram." });
        await audiogram.WaitForAsync();
        // Four thresholds by air and one by bone of the right ear, one by air of the left; the line ends before no response.
        Assert.Equal(5, await audiogram.Locator("path.sign.right").CountAsync());
        Assert.Equal(1, await audiogram.Locator("path.sign.left").CountAsync());
        Assert.Equal(1, await audiogram.Locator("path.joined.right").CountAsync());
        Assert.Contains("4,000 Hz no response at 110", await audiogram.GetAttributeAsync("aria-label"), StringComparison.Ordinal);
        await page.EmulateMediaAsync(new() { Media = Media.Print });
        Assert.True(await audiogram.IsVisibleAsync());
        await page.EmulateMediaAsync(new() { Media = Media.Screen });
    }
}
