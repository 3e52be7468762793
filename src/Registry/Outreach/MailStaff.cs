using MailKit;
using Microsoft.Extensions.Options;
using MimeKit;

namespace Registry.Outreach;

/// <summary>A short letter to somebody who works with the registry, by the way reminders leave. It names no family and no infant.</summary>
public sealed class MailStaff(IOptions<OutreachOptions> options, IConfiguration configuration, TimeProvider time, ILogger<MailStaff> log)
{
    /// <summary>Whether letters leave this machine at all.</summary>
    public bool HasServer => !string.IsNullOrEmpty(options.Value.Smtp.Host);

    /// <summary>How the server is named, for whoever sets it.</summary>
    public string Server => HasServer ? $"{options.Value.Smtp.Host}:{options.Value.Smtp.Port}" : "";

    public string From => options.Value.From;

    /// <summary>An address of a page, as people outside reach it.</summary>
    public string Link(string path) => options.Value.PublicUrl.TrimEnd('/') + path;

    /// <returns>False when it did not leave; why is in the log, by kind.</returns>
    public async Task<bool> SendAsync(string to, string subject, string text, CancellationToken ct)
    {
        try
        {
            using var message = new MimeMessage([new MailboxAddress(options.Value.SenderName, options.Value.From)],
                [MailboxAddress.Parse(to)], subject, new TextPart("plain") { Text = text })
            { Date = time.GetUtcNow() };
            await using var post = await MailRoute.OpenAsync(options.Value, configuration, ct);
            await post.SendAsync(message, Guid.CreateVersion7(), ct);
            return true;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ProtocolException or CommandException
            or System.Net.Sockets.SocketException or MailKit.Security.SslHandshakeException or MailKit.Security.AuthenticationException
            or ParseException or NotSupportedException or TimeoutException)
        {
            log.LogWarning("A letter to staff did not leave: {Kind}", e.GetType().Name);
            return false;
        }
    }
}
