using Microsoft.Playwright;
using Registry.Tests.Access.Tokens;
using Registry.Tests.Accounts;
using Registry.Tests.Intake;

namespace Registry.Tests.Browser;

/// <summary>In a browser: signing in by an OpenID provider, there and back, and registering a system that signs.</summary>
public sealed class SystemPagesTests(TestDatabase database, Chromium chromium)
{
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task A_provider_signs_an_administrator_in_who_registers_a_system(bool phone)
    {
        await using var provider = await OpenIdProvider.StartAsync(database);
        var settings = provider.Settings(("registry-administrators", "administrator", null));
        settings["OpenId:ClientId"] = "browser";
        await using var bed = await IntakeBed.StartAsync(database, settings, listen: true);
        await provider.RegisterAsync("browser", new Uri(new Uri(bed.App.Address), "/sign-in/openid/answer").ToString());
        provider.Claims.AddRange(
            [new("name", "Ada Millbrook"), new("email", "ada@lindmere.example"), new("groups", "registry-administrators")]);
        var page = await chromium.OpenAsync(bed.App.Address, phone);
        page.PageError += (_, error) => Assert.Fail(error);

        // Sent to sign in on the way to a page, by the provider, and on to that page.
        await page.GotoAsync("/access/keys");
        await page.SeeHereAsync("sign-in-openid");
        await page.GetByRole(AriaRole.Link, new() { Name = "Sign in with Lindmere Health" }).ClickAsync();
        await page.ArriveAsync("*/access/keys");

        using var system = new SystemWithKeys();
        await page.Locator("#Site").SelectOptionAsync("harbour");
        await page.Locator("#Name").FillAsync("Ward system");
        await page.Locator("#Scope").SelectOptionAsync("SendAndRead");
        await page.Locator("#PublicKeys").FillAsync(system.PublicKeys);
        await page.GetByRole(AriaRole.Button, new() { Name = "Issue a key" }).ClickAsync();
        await page.ArriveAsync("*/access/keys/*");
        await page.GetByText("This installation asks nobody for a certificate").WaitForAsync();
        await page.SeeHereAsync("site-key", whole: true);
        await page.GotoAsync("/access/keys");
        await page.SeeHereAsync("site-keys-systems", whole: true);
    }
}
