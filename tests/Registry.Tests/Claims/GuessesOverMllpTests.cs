using System.Collections.Concurrent;
using System.Diagnostics;
using System.Net.Sockets;
using Registry.Tests.Intake;
using Registry.Tests.Intake.Mllp;

namespace Registry.Tests.Claims;

/// <summary>Guessed cards over a real MLLP socket, a message a guess.</summary>
public sealed class GuessesOverMllpTests(TestDatabase database)
{
    private const int Connections = 8;

    [Fact]
    public async Task Every_message_is_acknowledged_alike_and_in_the_same_time()
    {
        await using var scene = await GuessedCards.StartAsync(database, 10_000_000,
            ("Mllp:Listeners:0:Port", "0"), ("Mllp:Listeners:0:Senders:0:Site", "stranger"),
            ("Mllp:Listeners:0:Senders:0:Addresses:0", "127.0.0.1"), ("Mllp:FramesPerMinutePerSender", "1000000"));
        var pairs = new ConcurrentBag<(TimeSpan, TimeSpan)>();
        await Task.WhenAll(Enumerable.Range(0, Connections).Select(async connection =>
        {
            using var client = await MllpTests.ConnectAsync(scene.Bed);
            await using var answers = new BufferedStream(client.GetStream());
            for (var i = connection; i < GuessedCards.Infants; i += Connections)
            {
                // Now the one first, now the other.
                var first = i / Connections % 2 == 0;
                var (one, oneTook) = await AskAsync(client, answers, first, i);
                var (other, otherTook) = await AskAsync(client, answers, !first, i);
                Assert.Contains($"MSA|AA|G-{i}\r", one, StringComparison.Ordinal);
                Assert.Equal(other, one);
                pairs.Add(first ? (oneTook, otherTook) : (otherTook, oneTook));
            }
        }));
        await scene.NothingGotInAsync();
        Assert.Equal(2 * GuessedCards.Infants, await scene.Bed.CountAsync("held_rows where resolution is null"));
        GuessedCards.TheClockTellsNothing(pairs);
        await scene.TellAsync("MLLP socket", GuessedCards.Infants);
    }

    private static async Task<(string Said, TimeSpan Took)> AskAsync(TcpClient client, Stream answers, bool exists, int i)
    {
        var clock = Stopwatch.GetTimestamp();
        await client.GetStream().WriteAsync(MllpTests.Frame(GuessedCards.Message(exists, i)), IntakeBed.Ct);
        var said = await MllpTests.ReceiveAsync(answers);
        return (GuessedCards.Plain(said), Stopwatch.GetElapsedTime(clock));
    }
}
