using System.IO.Enumeration;
using Microsoft.Playwright;
using Registry.Tests.Architecture;

namespace Registry.Tests.Browser;

/// <summary>What is true of every page, whoever looks at it and on whatever screen. <c>REGISTRY_SCREENSHOTS=1</c> keeps what was seen in
/// docs/screens.</summary>
internal static class Screen
{
    public static bool Keep { get; } = Environment.GetEnvironmentVariable("REGISTRY_SCREENSHOTS") == "1";

    /// <summary>Goes to a page, which fits.</summary>
    public static async Task SeeAsync(this IPage page, string path, string name)
    {
        var answer = await page.GotoAsync(path);
        Assert.Equal(200, answer!.Status);
        await page.SeeHereAsync(name);
    }

    /// <summary>
    /// Waits until the browser is at an address and has the whole page. It asks again and again: the test tool's own waits listen for an
    /// event, and on a busy machine one that fires between their look and their listening is never heard.
    /// </summary>
    /// <param name="page">The browser.</param>
    /// <param name="address">With <c>*</c> for anything.</param>
    public static Task ArriveAsync(this IPage page, string address) =>
        page.ArriveAsync(url => FileSystemName.MatchesSimpleExpression(address, url, ignoreCase: false));

    /// <inheritdoc cref="ArriveAsync(IPage, string)"/>
    public static async Task ArriveAsync(this IPage page, Func<string, bool> address)
    {
        await Eventually.HoldsAsync(() => address(page.Url), () => page.Url);
        await page.SettleAsync();
    }

    /// <remarks>Asked from outside: a function that waits inside the page is made by eval there, which our pages do not allow.</remarks>
    private static Task SettleAsync(this IPage page) => Eventually.HoldsAsync(async () =>
    {
        try
        {
            return await page.EvaluateAsync<string>("document.readyState") == "complete";
        }
        catch (PlaywrightException e) when (e.Message.Contains("Execution context", StringComparison.Ordinal))
        {
            return false; // between two pages
        }
    });

    /// <summary>The page has a heading, every chart is drawn, nothing is wider than the screen, and axe finds nothing.</summary>
    /// <param name="page">Where the browser is.</param>
    /// <param name="name">What the kept picture is called.</param>
    /// <param name="whole">Keep the whole page, not only what the screen shows.</param>
    public static async Task SeeHereAsync(this IPage page, string name, bool whole = false)
    {
        await page.SettleAsync();
        var phone = page.ViewportSize!.Width < 600;
        var overflow = await page.EvaluateAsync<int>("document.documentElement.scrollWidth - document.documentElement.clientWidth");
        Assert.True(overflow <= 0, $"{name} is {overflow} px wider than the {(phone ? "phone" : "desk")}.");
        Assert.False(string.IsNullOrWhiteSpace(await page.Locator("h1").First.InnerTextAsync()));
        Assert.Equal(0, await page.Locator("figure[data-chart]:has(script):not(:has(svg))").CountAsync());
        Assert.Equal("", string.Join('\n', [.. await Axe.LookAsync(page), .. await PlainWords.LookAsync(page)]));
        if (!Keep) return;
        Directory.CreateDirectory(Path.Combine(SourceTree.Root, "docs/screens"));
        await page.ScreenshotAsync(new()
        {
            Path = Path.Combine(SourceTree.Root, $"docs/screens/{name}-{(phone ? "phone" : "desktop")}.png"),
            FullPage = whole,
        });
    }
}
