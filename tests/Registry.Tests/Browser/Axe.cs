using System.Text.Json;
using Deque.AxeCore.Commons;
using Microsoft.Playwright;

namespace Registry.Tests.Browser;

/// <summary>Holds a page against the rules of axe-core: WCAG 2.2 A and AA, and its good practices.</summary>
internal static class Axe
{
    private static readonly string Script = new BundledAxeScriptProvider().GetScript();

    /// <summary>What is dark differs in its colors alone.</summary>
    private static readonly string[] Colors = ["color-contrast", "link-in-text-block"];

    /// <param name="page">Where the browser is.</param>
    /// <returns>A line for each finding, in light and in dark.</returns>
    /// <remarks>By axe.run in the page itself. The package made for this test tool ends each run in a blank page of its own, which a page
    /// without frames does not need: opening it cost more than the looking.</remarks>
    public static async Task<IReadOnlyList<string>> LookAsync(IPage page)
    {
        var found = new List<string>();
        if (await page.EvaluateAsync<string>("typeof window.axe") == "undefined") await page.EvaluateAsync(Script);
        foreach (var dark in new[] { false, true })
        {
            if (dark) await page.EmulateMediaAsync(new() { ColorScheme = ColorScheme.Dark });
            var seen = await page.EvaluateAsync<JsonElement>(
                "rules => axe.run(document, { resultTypes: ['violations'], ...(rules ? { runOnly: { type: 'rule', values: rules } } : {}) })"
                    + ".then(found => found.violations)", dark ? Colors : null);
            found.AddRange(from rule in seen.EnumerateArray()
                           from node in rule.GetProperty("nodes").EnumerateArray()
                           select $"{Text(rule, "id")}, {page.ViewportSize!.Width} px{(dark ? ", dark" : "")}: "
                               + $"{Short(Text(node, "html"))} ({Text(rule, "help")})");
        }

        await page.EmulateMediaAsync(new() { ColorScheme = ColorScheme.Light });
        return found;
    }

    private static string Text(JsonElement of, string name) => of.GetProperty(name).GetString()!;

    private static string Short(string html) => html.Length > 160 ? html[..160] + "…" : html;
}
