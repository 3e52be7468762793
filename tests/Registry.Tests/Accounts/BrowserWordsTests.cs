using Registry.Accounts;

namespace Registry.Tests.Accounts;

/// <summary>Headers as browsers send them (from memory).</summary>
public sealed class BrowserWordsTests
{
    [Theory]
    [InlineData("Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:128.0) Gecko/20100101 Firefox/128.0", "Firefox on Windows")]
    [InlineData("Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/126.0 Safari/537.36 Edg/126.0",
        "Edge on Windows")]
    [InlineData("Mozilla/5.0 (Linux; Android 14) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/126.0 Mobile Safari/537.36",
        "Chrome on Android")]
    [InlineData("Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1 (KHTML, like Gecko) Version/17.5 Safari/604.1",
        "Safari on iPhone")]
    [InlineData("curl/8.5.0", "A browser"), InlineData(null, "A browser")]
    public void A_browser_is_called_by_its_name(string? agent, string name) => Assert.Equal(name, BrowserWords.Of(agent));
}
