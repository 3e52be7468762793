using Deque.AxeCore.Commons;
using Deque.AxeCore.Playwright;
using Microsoft.Playwright;

namespace Registry.Tests.Browser;

/// <summary>Holds a page against the rules of axe-core: WCAG 2.2 A and AA, and its good practices.</summary>
internal static class Axe
{
    /// <summary>What is dark differs in its colors alone.</summary>
    private static readonly RunOnlyOptions Colors = new() { Type = "rule", Values = ["color-contrast", "link-in-text-block"] };

    /// <param name="page">Where the browser is.</param>
    /// <param name="andDark">In dark too.</param>
    /// <returns>A line for each finding.</returns>
    public static async Task<IReadOnlyList<string>> LookAsync(IPage page, bool andDark = false)
    {
        var found = new List<string>();
        foreach (var dark in andDark ? [false, true] : new[] { false })
        {
            await page.EmulateMediaAsync(new() { ColorScheme = dark ? ColorScheme.Dark : ColorScheme.Light });
            var seen = await page.RunAxe(new AxeRunOptions { ResultTypes = [ResultType.Violations], RunOnly = dark ? Colors : null });
            found.AddRange(from v in seen.Violations
                           from node in v.Nodes
                           select $"{v.Id}, {page.ViewportSize!.Width} px{(dark ? ", dark" : "")}: {Short(node.Html)} ({v.Help})");
        }

        await page.EmulateMediaAsync(new() { ColorScheme = ColorScheme.Light });
        return found;
    }

    private static string Short(string html) => html.Length > 160 ? html[..160] + "…" : html;
}
