using System.Net.Sockets;
using Microsoft.Extensions.Options;
using Registry.Outreach;

namespace Registry.Operations.Checks;

/// <summary>Does the mail server take connections.</summary>
internal sealed class CheckMail(IOptions<OutreachOptions> outreach) : IInstallationCheck
{
    public async Task<IReadOnlyList<CheckLine>> RunAsync(bool reachOthers, CancellationToken ct) =>
        reachOthers ? [await LookAsync(ct)] : [];

    private async Task<CheckLine> LookAsync(CancellationToken ct)
    {
        var smtp = outreach.Value.Smtp;
        if (smtp.Host is not { Length: > 0 } host) return CheckWords.NoMailServer();
        try
        {
            using var client = new TcpClient();
            using var patience = CancellationTokenSource.CreateLinkedTokenSource(ct);
            patience.CancelAfter(TimeSpan.FromSeconds(5));
            await client.ConnectAsync(host, smtp.Port, patience.Token);
            return CheckWords.MailAnswers(host, smtp.Port);
        }
        catch (Exception e) when (e is SocketException or OperationCanceledException && !ct.IsCancellationRequested)
        {
            return CheckWords.MailSilent(host, smtp.Port);
        }
    }
}
