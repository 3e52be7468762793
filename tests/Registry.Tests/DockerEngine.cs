using System.IO.Pipes;
using System.Net.Sockets;

namespace Registry.Tests;

/// <summary>Asks, quickly and quietly, whether a Docker engine answers on this machine.</summary>
internal static class DockerEngine
{
    private static readonly TimeSpan Patience = TimeSpan.FromSeconds(1.5);

    internal static async Task<bool> AnswersAsync()
    {
        using var patience = new CancellationTokenSource(Patience);
        try
        {
            using var handler = new SocketsHttpHandler { ConnectCallback = (_, ct) => ConnectAsync(ct) };
            using var client = new HttpClient(handler);
            using var answer = await client.GetAsync(new Uri("http://docker/_ping"), patience.Token);
            return answer.IsSuccessStatusCode;
        }
        catch (Exception error) when (error is HttpRequestException or IOException or SocketException or OperationCanceledException
            or TimeoutException or UriFormatException)
        {
            return false;
        }
    }

    private static async ValueTask<Stream> ConnectAsync(CancellationToken ct)
    {
        var address = new Uri(Environment.GetEnvironmentVariable("DOCKER_HOST") is { Length: > 0 } configured ? configured
            : OperatingSystem.IsWindows() ? "npipe://./pipe/docker_engine" : "unix:///var/run/docker.sock");
        if (address.Scheme == "npipe")
        {
            var pipe = new NamedPipeClientStream(".", address.Segments[^1], PipeDirection.InOut, PipeOptions.Asynchronous);
            await pipe.ConnectAsync(ct);
            return pipe;
        }
        var socket = address.Scheme == "unix"
            ? new Socket(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified)
            : new Socket(SocketType.Stream, ProtocolType.Tcp);
        try
        {
            if (address.Scheme == "unix") await socket.ConnectAsync(new UnixDomainSocketEndPoint(address.LocalPath), ct);
            else await socket.ConnectAsync(address.Host, address.Port, ct);
            return new NetworkStream(socket, ownsSocket: true);
        }
        catch
        {
            socket.Dispose();
            throw;
        }
    }
}
