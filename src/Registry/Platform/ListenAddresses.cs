using System.Net;

namespace Registry.Platform;

/// <summary>Which addresses a server listens on, told before it does.</summary>
public static class ListenAddresses
{
    /// <summary>Those another machine could reach.</summary>
    public static IReadOnlyList<string> OffLoopback(IConfiguration configuration)
    {
        var urls = (configuration["Urls"] ?? "").Split(';', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries)
            .Concat(configuration.GetSection("Kestrel:Endpoints").GetChildren().Select(e => e["Url"]).OfType<string>()).ToList();
        // Ports without an address are opened on every one, but only where no address is given.
        if (string.IsNullOrEmpty(configuration["Urls"]))
            urls.AddRange(new[] { "http", "https" }.Where(s => !string.IsNullOrEmpty(configuration[$"{s}_ports"]))
                .Select(s => $"{s}://*:{configuration[$"{s}_ports"]}"));
        return [.. urls.Where(u => !IsLoopback(u))];
    }

    /// <summary>What cannot be read counts as reachable.</summary>
    public static bool IsLoopback(string url)
    {
        var rest = url.Contains("://", StringComparison.Ordinal) ? url[(url.IndexOf("://", StringComparison.Ordinal) + 3)..] : url;
        var host = rest.StartsWith('[') ? rest[1..Math.Max(1, rest.IndexOf(']', StringComparison.Ordinal))] : rest.Split(':', '/')[0];
        return IsLoopbackHost(host);
    }

    public static bool IsLoopbackHost(string host) => host.Equals("localhost", StringComparison.OrdinalIgnoreCase)
        || (IPAddress.TryParse(host, out var address) && IPAddress.IsLoopback(address));
}
