using Microsoft.Playwright;

namespace Registry.Tests.Browser;

/// <summary>Looks for names of columns and codes where a page speaks to people. What a file or a program says stands in
/// <c>code</c>, or between quotes as the name it is.</summary>
public static class PlainWords
{
    private const string Codes =
        """
        () => {
          const found = new Set();
          const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
          while (texts.nextNode()) {
            if (texts.currentNode.parentElement.closest("code, pre, kbd, samp, script, style, textarea")) continue;
            for (const name of texts.currentNode.data.match(/(?<!')\b[a-z0-9]+(_[a-z0-9]+)+\b/g) ?? []) found.add(name);
          }
          return [...found];
        }
        """;

    public static async Task<IEnumerable<string>> LookAsync(IPage page) =>
        (await page.EvaluateAsync<string[]>(Codes)).Select(code => $"says \"{code}\" to a person");
}
