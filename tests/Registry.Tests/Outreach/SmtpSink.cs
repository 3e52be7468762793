using System.Net;
using System.Net.Sockets;
using System.Text;

namespace Registry.Tests.Outreach;

/// <summary>A mail server on a loopback port that keeps what it is sent, or answers as told: enough of RFC 5321 for one client.</summary>
internal sealed class SmtpSink : IAsyncDisposable
{
    private readonly TcpListener _listener = new(IPAddress.Loopback, 0);
    private readonly CancellationTokenSource _stop = new();
    private readonly Task _serving;

    public SmtpSink()
    {
        _listener.Start();
        _serving = Task.Run(ServeAsync);
    }

    public int Port => ((IPEndPoint)_listener.LocalEndpoint).Port;

    public List<(string To, string Message)> Received { get; } = [];

    /// <summary>The answer to RCPT.</summary>
    public string RecipientAnswer { get; set; } = "250 ok";

    /// <summary>Take the message, then break off without an answer.</summary>
    public bool BreakAfterData { get; set; }

    public async ValueTask DisposeAsync()
    {
        await _stop.CancelAsync();
        _listener.Stop();
        await _serving;
        _stop.Dispose();
    }

    private async Task ServeAsync()
    {
        while (!_stop.IsCancellationRequested)
        {
            try
            {
                using var client = await _listener.AcceptTcpClientAsync(_stop.Token);
                await TalkAsync(client);
            }
            catch (Exception error) when (error is IOException or SocketException or OperationCanceledException)
            {
                // The client hung up, or the test is over.
            }
        }
    }

    private async Task TalkAsync(TcpClient client)
    {
        using var reader = new StreamReader(client.GetStream(), Encoding.UTF8);
        await using var writer = new StreamWriter(client.GetStream(), new UTF8Encoding(false)) { NewLine = "\r\n", AutoFlush = true };
        await writer.WriteLineAsync("220 sink");
        var to = "";
        while (await reader.ReadLineAsync(_stop.Token) is { } line)
        {
            var verb = line.Split(' ', ':')[0].ToUpperInvariant();
            switch (verb)
            {
                case "RCPT":
                    to = line;
                    await writer.WriteLineAsync(RecipientAnswer);
                    break;
                case "DATA":
                    await writer.WriteLineAsync("354 go on");
                    var message = new StringBuilder();
                    while (await reader.ReadLineAsync(_stop.Token) is { } text && text != ".") message.AppendLine(text);
                    Received.Add((to, message.ToString()));
                    if (BreakAfterData) return;
                    await writer.WriteLineAsync("250 kept");
                    break;
                case "QUIT":
                    await writer.WriteLineAsync("221 bye");
                    return;
                default:
                    await writer.WriteLineAsync("250 ok");
                    break;
            }
        }
    }
}
