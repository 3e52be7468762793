using System.Net;
using System.Text.RegularExpressions;
using Microsoft.AspNetCore.Mvc.Testing;
using Microsoft.Playwright;
using Registry.Records;
using Registry.Tests.Browser;
using Registry.Tests.Intake;

namespace Registry.Tests;

/// <summary>The one way tests sign in: over HTTP, and in a browser.</summary>
internal static partial class SignedIn
{
    /// <summary>Nobody yet; redirects are shown, not followed.</summary>
    public static HttpClient Nobody(IntakeBed bed) =>
        bed.App.CreateClient(new WebApplicationFactoryClientOptions { AllowAutoRedirect = false });

    /// <summary>A new person of that role.</summary>
    public static async Task<HttpClient> AsAsync(IntakeBed bed, Role role, SiteId? site, params string[] counties)
    {
        var client = Nobody(bed);
        using var answer = await PostAsync(client, await bed.AddPersonAsync(role, site, counties), IntakeBed.Password);
        Assert.Equal(HttpStatusCode.Redirect, answer.StatusCode);
        return client;
    }

    /// <summary>Sends the form of the sign-in page.</summary>
    public static async Task<HttpResponseMessage> PostAsync(HttpClient client, Person person, string password, string query = "")
    {
        var token = await TokenAsync(client, "/sign-in");
        using var form = new FormUrlEncodedContent(
            [new("Email", person.Email!), new("Password", password), new("__RequestVerificationToken", token)]);
        return await client.PostAsync("/sign-in" + query, form, IntakeBed.Ct);
    }

    /// <summary>A form of somebody signed in, sent to an address whose page they may not be shown.</summary>
    public static async Task<HttpResponseMessage> SendFormAsync(HttpClient client, string path, params (string Name, string Value)[] fields)
    {
        var token = await TokenAsync(client, "/access/own");
        using var form = new FormUrlEncodedContent(
            fields.Append(("__RequestVerificationToken", token)).Select(f => new KeyValuePair<string, string>(f.Item1, f.Item2)));
        return await client.PostAsync(path, form, IntakeBed.Ct);
    }

    /// <summary>What a form of a page must send with it.</summary>
    public static async Task<string> TokenAsync(HttpClient client, string page) =>
        Token().Match(await client.GetStringAsync(page, IntakeBed.Ct)).Groups[1].Value;

    /// <summary>A page without the token of its forms: a hundred and fifty letters and digits that are others each time, in which any two
    /// stand sooner or later.</summary>
    public static string Plain(string html) => Token().Replace(html, "name=\"#token\"");

    /// <summary>A page in a context of its own, on which a broken script fails the test.</summary>
    public static async Task<IPage> OpenAsync(Chromium chromium, RegistryApp app, string email, string password = IntakeBed.Password,
        bool phone = false, string from = "/sign-in")
    {
        var page = await chromium.OpenAsync(app.Address, phone);
        app.DisposeFirst(page.Context);
        page.PageError += (_, error) => Assert.Fail(error);
        await page.GotoAsync(from);
        await page.Locator("#sign-in input[type=email]").FillAsync(email);
        await page.Locator("#sign-in input[type=password]").FillAsync(password);
        await page.Locator("#sign-in button[type=submit]").ClickAsync();
        await page.Locator("nav[aria-label=Main]").WaitForAsync();
        return page;
    }

    [GeneratedRegex("""name="__RequestVerificationToken" type="hidden" value="([^"]+)""")]
    private static partial Regex Token();
}
