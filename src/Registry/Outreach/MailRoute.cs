using MailKit.Net.Smtp;
using MailKit.Security;
using MimeKit;
using Registry.Platform.Database;
using Registry.Platform.EmbeddedPostgres;

namespace Registry.Outreach;

/// <summary>The way reminders leave: one connection to the mail server for a run, or a folder of <c>.eml</c> files.</summary>
internal sealed class MailRoute : IAsyncDisposable
{
    private readonly SmtpClient? _smtp;
    private readonly string? _folder;

    private MailRoute(SmtpClient? smtp, string? folder) => (_smtp, _folder) = (smtp, folder);

    /// <summary>What happened to a reminder, in a word.</summary>
    public string Verb => _smtp is null ? "written as files" : "sent";

    /// <summary>What a reminder that went this way is: a file reaches nobody by itself.</summary>
    public ReminderState Reached => _smtp is null ? ReminderState.Written : ReminderState.Sent;

    /// <summary>The connection is gone: the rest waits for the next run.</summary>
    public bool IsBroken => _smtp is { IsConnected: false };

    /// <exception cref="IOException">The server is unreachable or the folder cannot be written: nothing was claimed yet, nothing is
    /// lost.</exception>
    public static async Task<MailRoute> OpenAsync(OutreachOptions options, IConfiguration configuration, CancellationToken ct)
    {
        if (options.Smtp.Host is not { Length: > 0 } host) return new(null, await CreateFolderAsync(options, configuration, ct));
        var smtp = new SmtpClient { Timeout = 30_000 };
        try
        {
            await smtp.ConnectAsync(host, options.Smtp.Port, options.Smtp.Security switch
            {
                SmtpSecurity.None => SecureSocketOptions.None,
                SmtpSecurity.Tls => SecureSocketOptions.SslOnConnect,
                _ => SecureSocketOptions.StartTls,
            }, ct);
            if (options.Smtp.Username is { Length: > 0 } user) await smtp.AuthenticateAsync(user, options.Smtp.Password ?? "", ct);
            return new(smtp, null);
        }
        catch
        {
            smtp.Dispose();
            throw;
        }
    }

    public async Task SendAsync(MimeMessage message, Guid id, CancellationToken ct)
    {
        if (_smtp is not null)
        {
            await _smtp.SendAsync(message, ct);
            return;
        }

        // Named by the reminder: written again, it is the same file. Open to its owner only: it holds an address.
        var file = new FileStreamOptions { Mode = FileMode.Create, Access = FileAccess.Write };
        if (!OperatingSystem.IsWindows()) file.UnixCreateMode = UnixFileMode.UserRead | UnixFileMode.UserWrite;
        await using var stream = new FileStream(Path.Combine(_folder!, $"{id:n}.eml"), file);
        await message.WriteToAsync(stream, ct);
    }

    public async ValueTask DisposeAsync()
    {
        if (_smtp is null) return;
        if (_smtp.IsConnected) await _smtp.DisconnectAsync(quit: true);
        _smtp.Dispose();
    }

    private static async Task<string> CreateFolderAsync(OutreachOptions options, IConfiguration configuration, CancellationToken ct)
    {
        var folder = options.Folder;
        if (string.IsNullOrEmpty(folder))
        {
            var embedded = configuration.GetSection(DatabaseOptions.Section).Get<DatabaseOptions>()?.Embedded ?? new();
            folder = Path.Combine(DataFolder.Choose(embedded.DataFolder, await ServerAccount.ChooseAsync(embedded.RunAs, ct)).Root,
                "outbox");
        }

        if (OperatingSystem.IsWindows()) Directory.CreateDirectory(folder);
        else if (!Directory.Exists(folder))
            Directory.CreateDirectory(folder, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        return folder;
    }
}
