using System.ComponentModel.DataAnnotations;
using System.Net;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Intake.Formats.Hl7V2;

namespace Registry.Intake.Mllp;

/// <summary>HL7 v2 over MLLP; bound from <c>Mllp</c>. Without listeners nothing listens.</summary>
public sealed record MllpOptions
{
    public IReadOnlyList<MllpListener> Listeners { get; init; } = [];

    /// <summary>Largest frame taken, in bytes; its content may be a batch.</summary>
    [Range(1_024, 64 * 1024 * 1024)] public int MaxFrameBytes { get; init; } = SplitMessages.MaxMessageBytes;

    /// <summary>Seconds between two messages after which a connection is closed.</summary>
    [Range(1, 86_400)] public int IdleSeconds { get; init; } = 1_800;

    /// <summary>Seconds within which a frame that began must be complete.</summary>
    [Range(1, 3_600)] public int FrameSeconds { get; init; } = 60;

    /// <summary>Messages a minute of one sender; the next waits its turn, and its answer with it.</summary>
    [Range(1, 1_000_000)] public int FramesPerMinutePerSender { get; init; } = 1_200;

    /// <summary>Connections at once of one sender.</summary>
    [Range(1, 10_000)] public int ConnectionsPerSender { get; init; } = 20;

    /// <summary>Connections at once, over all listeners.</summary>
    [Range(1, 10_000)] public int MaxConnections { get; init; } = 200;
}

/// <summary>A port, and who may speak there.</summary>
public sealed record MllpListener
{
    /// <summary>The address it listens on.</summary>
    public string Address { get; init; } = "127.0.0.1";

    /// <summary>0: any free one, for tests.</summary>
    public int Port { get; init; } = 2575;

    /// <summary>PEM files of the server's certificate (with its chain) and key: TLS only then. Empty: plain text.</summary>
    public string? Certificate { get; init; }
    public string? CertificateKey { get; init; }

    public IReadOnlyList<MllpSender> Senders { get; init; } = [];

    internal bool IsTls => !string.IsNullOrEmpty(Certificate);
}

/// <summary>One that may send: known by where it comes from, by its certificate, or by both. Nobody else is let in.</summary>
public sealed record MllpSender
{
    /// <summary>Code of the site its messages are from.</summary>
    public string Site { get; init; } = "";

    /// <summary>Only messages whose MSH-4 (namespace id or universal id) is this. Empty: all of its messages, whatever MSH-4
    /// says.</summary>
    public string? Facility { get; init; }

    /// <summary>Addresses or networks (<c>10.20.0.0/16</c>) it connects from.</summary>
    public IReadOnlyList<string> Addresses { get; init; } = [];

    /// <summary>SHA-256 fingerprints of its client certificates, hexadecimal; colons are allowed.</summary>
    public IReadOnlyList<string> ClientCertificates { get; init; } = [];

    internal bool Admits(IPAddress? address, string? fingerprint) =>
        (Addresses.Count > 0 || ClientCertificates.Count > 0)
        && (Addresses.Count == 0
            || (address is not null && Addresses.Any(a => TryNetwork(a, out var network) && network.Contains(Plain(address)))))
        && (ClientCertificates.Count == 0
            || (fingerprint is not null && ClientCertificates.Any(c => CertificatePins.Normalize(c) == fingerprint)));

    internal static bool TryNetwork(string text, out IPNetwork network)
    {
        if (IPNetwork.TryParse(text, out network)) return true;
        if (!IPAddress.TryParse(text, out var address)) return false;
        address = Plain(address);
        network = new(address, address.GetAddressBytes().Length * 8);
        return true;
    }

    private static IPAddress Plain(IPAddress address) => address.IsIPv4MappedToIPv6 ? address.MapToIPv4() : address;
}

/// <summary>Says at start what is wrong with the listeners, all at once.</summary>
internal sealed class CheckMllpOptions : IValidateOptions<MllpOptions>
{
    public ValidateOptionsResult Validate(string? name, MllpOptions options)
    {
        var problems = options.Listeners.SelectMany((l, i) => Problems(l).Select(p => $"Mllp:Listeners:{i}: {p}")).ToList();
        foreach (var twice in options.Listeners.Where(l => l.Port > 0).GroupBy(l => (l.Address, l.Port)).Where(g => g.Count() > 1))
            problems.Add($"Mllp:Listeners: {twice.Key.Address}:{twice.Key.Port} is listed twice");
        return problems.Count == 0 ? ValidateOptionsResult.Success : ValidateOptionsResult.Fail(problems);
    }

    private static IEnumerable<string> Problems(MllpListener listener)
    {
        if (!IPAddress.TryParse(listener.Address, out var address)) yield return "Address is not an IP address";
        // Between machines: messages hold names, and an address alone proves nobody.
        var reachable = address is not null && !IPAddress.IsLoopback(address);
        if (reachable && !listener.IsTls) yield return "Certificate is required on an address that is not loopback";
        if (listener.Port is < 0 or > 65_535) yield return "Port is not between 0 and 65535";
        if (listener.IsTls != !string.IsNullOrEmpty(listener.CertificateKey)) yield return "Certificate and CertificateKey belong together";
        foreach (var file in new[] { listener.Certificate, listener.CertificateKey })
            if (!string.IsNullOrEmpty(file) && !File.Exists(file)) yield return "Certificate or CertificateKey: there is no such file";
        if (listener.Senders.Count == 0) yield return "Senders is empty: nobody could send";
        foreach (var (i, sender) in listener.Senders.Index())
        {
            var at = $"Senders:{i}: ";
            if (string.IsNullOrWhiteSpace(sender.Site)) yield return at + "Site is required";
            if (sender.Addresses.Count == 0 && sender.ClientCertificates.Count == 0)
                yield return at + "Addresses or ClientCertificates is required: nobody is let in unknown";
            if (reachable && sender.ClientCertificates.Count == 0)
                yield return at + "ClientCertificates is required on an address that is not loopback";
            if (sender.ClientCertificates.Count > 0 && !listener.IsTls)
                yield return at + "ClientCertificates needs a listener with a Certificate";
            if (sender.Addresses.Any(a => !MllpSender.TryNetwork(a, out _)))
                yield return at + "Addresses holds something that is neither an IP address nor a network";
            if (!sender.ClientCertificates.All(CertificatePins.IsFingerprint))
                yield return at + "ClientCertificates holds something that is no SHA-256 fingerprint";
        }
    }
}
