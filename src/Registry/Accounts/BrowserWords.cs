namespace Registry.Accounts;

/// <summary>What a browser says of itself, as people call it.</summary>
public static class BrowserWords
{
    /// <summary>Most browsers name others too, to be taken for them: the first of these that is named is it.</summary>
    private static readonly (string Mark, string Name)[] Browsers =
        [("Edg", "Edge"), ("OPR/", "Opera"), ("SamsungBrowser/", "Samsung Internet"), ("Firefox/", "Firefox"), ("FxiOS/", "Firefox"),
            ("CriOS/", "Chrome"), ("Chrome/", "Chrome"), ("Safari/", "Safari")];

    private static readonly (string Mark, string Name)[] Systems =
        [("Windows", "Windows"), ("Android", "Android"), ("iPhone", "iPhone"), ("iPad", "iPad"), ("Mac OS X", "Mac"),
            ("CrOS", "Chromebook"), ("Linux", "Linux")];

    /// <summary>"Firefox on Windows".</summary>
    /// <param name="agent">The header User-Agent (RFC 9110, section 10.1.5), whose content no standard fixes.</param>
    public static string Of(string? agent) => Named(Systems, agent) is { } system
        ? $"{Named(Browsers, agent) ?? "A browser"} on {system}" : Named(Browsers, agent) ?? "A browser";

    private static string? Named((string Mark, string Name)[] marks, string? agent) => agent is null ? null
        : Array.Find(marks, m => agent.Contains(m.Mark, StringComparison.Ordinal)).Name;
}
