using Microsoft.Playwright;
using Registry.Access;
using Registry.Records;
using Registry.Tests.Intake;

namespace Registry.Tests.Browser;

/// <summary>Passkeys with the browser's own authenticator (W3C Web Authentication Level 2, section 11: user agent automation).</summary>
public sealed class PasskeyTests(TestDatabase database, Chromium chromium)
{
    [Fact]
    public async Task A_passkey_signs_its_owner_in_instead_of_password_and_code_until_it_is_taken_away()
    {
        await using var bed = await IntakeBed.StartAsync(database,
            new Dictionary<string, string?> { ["Access:RequireSecondFactor"] = "true" }, listen: true);
        var person = await bed.AddPersonAsync(Role.Screener, bed.Harbour);
        var page = await OpenAsync(bed);
        await page.GotoAsync("/sign-in");
        await page.Locator("#sign-in input[type=email]").FillAsync(person.Email!);
        await page.Locator("#sign-in input[type=password]").FillAsync(IntakeBed.Password);
        await page.Locator("#sign-in button[type=submit]").ClickAsync();
        await page.Locator("nav[aria-label=Main]").WaitForAsync();

        // Not with another password: somebody at an open session keeps no way in.
        await AddAsync("another password entirely");
        await page.Locator(".banner.problem").WaitForAsync();
        Assert.Equal(0, await bed.CountAsync("person_passkeys"));
        Assert.Equal(1, await bed.CountAsync("access_records where kind = 'sign_in_failed'")); // a password was tried
        await AddAsync(IntakeBed.Password);
        await page.Locator(".banner.done").WaitForAsync();
        Assert.Equal(1, await bed.CountAsync("person_passkeys"));
        await page.SeeHereAsync("own-passkey");

        // It stands for both factors: nothing more is asked for, of a coordinator neither.
        await bed.ListAsync("update people set role = 'coordinator', site_id = null where id = $1 returning 1", person.Id);
        await ShowAsync();
        await page.Locator("nav[aria-label=Main]").WaitForAsync();
        Assert.DoesNotContain(Entering.NewPage, page.Url, StringComparison.Ordinal);
        Assert.Equal(200, (await page.GotoAsync("/follow-up"))!.Status);

        await bed.ListAsync("update people set disabled_at = now() where id = $1 returning 1", person.Id);
        await ShowAsync();
        await page.Locator(".banner.problem:visible").WaitForAsync();
        await bed.ListAsync("update people set disabled_at = null where id = $1 returning 1", person.Id);
        await bed.ListAsync("delete from person_passkeys returning 1");
        await ShowAsync();
        await page.Locator(".banner.problem:visible").WaitForAsync();
        Assert.Equal(3, await bed.CountAsync("access_records where kind = 'sign_in_failed'"));

        async Task AddAsync(string password)
        {
            await page.GotoAsync(RequireOwnPassword.Page);
            await page.Locator("#passkey-password").FillAsync(password);
            await page.Locator("form[data-passkey=new] button[type=submit]").ClickAsync();
        }

        async Task ShowAsync()
        {
            await page.Context.ClearCookiesAsync();
            await page.GotoAsync("/sign-in");
            await page.Locator("form[data-passkey=show] button[type=submit]").ClickAsync();
        }
    }

    /// <summary>By name: a passkey is bound to a name and not to a number.</summary>
    private async Task<IPage> OpenAsync(IntakeBed bed)
    {
        var page = await chromium.OpenAsync(bed.App.Address.Replace("127.0.0.1", "localhost", StringComparison.Ordinal));
        page.PageError += (_, error) => Assert.Fail(error);
        var session = await page.Context.NewCDPSessionAsync(page);
        await session.SendAsync("WebAuthn.enable");
        await session.SendAsync("WebAuthn.addVirtualAuthenticator", new Dictionary<string, object>
        {
            ["options"] = new Dictionary<string, object>
            {
                ["protocol"] = "ctap2",
                ["transport"] = "internal",
                ["hasResidentKey"] = true,
                ["hasUserVerification"] = true,
                ["isUserVerified"] = true,
                ["automaticPresenceSimulation"] = true,
            },
        });
        return page;
    }
}
