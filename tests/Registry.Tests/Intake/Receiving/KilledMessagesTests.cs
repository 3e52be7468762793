using System.Collections.Concurrent;
using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Net.Sockets;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Tests.Intake.Formats.Hl7V2;
using Registry.Tests.Intake.Mllp;
using Registry.Tests.Platform;

namespace Registry.Tests.Intake.Receiving;

/// <summary>
/// Acknowledged means committed, for messages and Bundles too: the program is killed (SIGKILL) while many HL7 v2 messages come in over
/// MLLP and while Bundles come in. What was answered AA or 200 is there once; everything else can be sent again.
/// </summary>
public sealed partial class KilledMessagesTests : IAsyncDisposable
{
    private const int Senders = 6;

    /// <summary>How many more must be answered before a kill.</summary>
    private static readonly int[] Moments = [1, 20, 50, 90];

    private readonly ProgramFolder _folder = new();
    private readonly ConcurrentDictionary<int, byte> _answered = [];
    private int _next;
    private string _last = "no answer";

    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    public ValueTask DisposeAsync() => _folder.DisposeAsync();

    [Fact]
    public async Task Every_message_answered_AA_is_there_once_and_every_other_can_be_sent_again()
    {
        var port = ProgramProcess.FreePort();
        await KillManyTimesAsync(
            [
                ("Mllp__Listeners__0__Port", port.ToString(CultureInfo.InvariantCulture)),
                ("Mllp__Listeners__0__Senders__0__Site", "harbour"),
                ("Mllp__Listeners__0__Senders__0__Addresses__0", "127.0.0.1"),
            ],
            async (_, _, take) =>
            {
                using var client = new TcpClient();
                await client.ConnectAsync(IPAddress.Loopback, port, Cancel);
                while (take() is { } n)
                {
                    _last = await MllpTests.AskAsync(client.GetStream(), Message(n));
                    if (AcknowledgementTests.Code(_last) == "AA") _answered.TryAdd(n, 0);
                }
            }, testsOfEach: 2);
    }

    [Fact]
    public async Task Every_bundle_answered_200_is_there_once_and_every_other_can_be_sent_again() => await KillManyTimesAsync(
        [],
        async (program, key, take) =>
        {
            using var http = program.Client(key);
            while (take() is { } n)
            {
                using var content = new StringContent(Bundle(n), Encoding.UTF8, new MediaTypeHeaderValue("application/fhir+json"));
                using var answer = await http.PostAsync("/fhir", content, Cancel);
                _last = await answer.Content.ReadAsStringAsync(Cancel);
                if (answer.StatusCode == HttpStatusCode.OK && Accepted().Count(_last) == 2) _answered.TryAdd(n, 0);
            }
        }, testsOfEach: 1);

    /// <summary>Kills the program at several moments while senders send one after the other; then sends again what was not
    /// answered.</summary>
    private async Task KillManyTimesAsync((string, string)[] settings, Func<ProgramProcess, string, Func<int?>, Task> send, int testsOfEach)
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "sends signals");
        var program = await ProgramProcess.StartAsync(_folder, Cancel, settings);
        try
        {
            var key = await ProgramProcess.AddSiteAsync(_folder, Cancel);
            var interrupted = 0;
            foreach (var moment in Moments)
            {
                var running = program;
                var before = _answered.Count;
                var senders = Enumerable.Range(0, Senders).Select(_ =>
                    Task.Run(() => SendUntilKilledAsync(() => send(running, key, () => Interlocked.Increment(ref _next))), Cancel))
                    .ToList();
                await Eventually.HoldsAsync(() =>
                {
                    Assert.False(senders.TrueForAll(s => s.IsCompleted), $"No sender is left: {_last}");
                    return _answered.Count >= before + moment;
                }, () => _last);
                await program.KillAsync(Cancel);
                await Task.WhenAll(senders);
                interrupted += _next - _answered.Count;
                program.Dispose();
                program = await ProgramProcess.StartAsync(_folder, Cancel, settings);
            }

            Assert.True(_answered.Count > Moments.Length, $"only {_answered.Count} were answered");
            Assert.NotEqual(0, interrupted); // else no moment hit one on its way
            var answered = _answered.Keys.Order().Select(Number).ToArray();
            await AssertOnceAsync(answered, testsOfEach);

            // What was not answered is sent again, and so is what was: nothing is there twice.
            var again = new Queue<int>(Enumerable.Range(1, _next));
            await send(program, key, () => again.TryDequeue(out var n) ? n : null);
            Assert.Equal(_next, _answered.Count);
            await AssertOnceAsync([.. Enumerable.Range(1, _next).Select(Number)], testsOfEach);
            Assert.Equal((long)_next, await ProgramProcess.AskAsync<long>(_folder, "select count(*) from infants", Cancel));
            Assert.Equal(0L, await ProgramProcess.AskAsync<long>(_folder,
                "select count(*) from submission_rows where outcome in ('held', 'rejected')", Cancel));
            TestContext.Current.TestOutputHelper?.WriteLine(
                $"{answered.Length} of {_next} were answered before a kill, {_next - answered.Length} were not");
        }
        finally
        {
            program.Dispose();
        }
    }

    private async Task SendUntilKilledAsync(Func<Task> send)
    {
        try
        {
            await send();
        }
        catch (Exception e) when (e is IOException or HttpRequestException or SocketException)
        {
            _last = $"{e.GetType().Name}: {e.Message}"; // The program was killed.
        }
    }

    private async Task AssertOnceAsync(string[] numbers, int testsOfEach)
    {
        Assert.Equal((long)numbers.Length, await ProgramProcess.AskAsync<long>(_folder,
            "select count(*) from infant_identifiers where value = any($1) and superseded_at is null", Cancel, [numbers]));
        Assert.Equal((long)numbers.Length * testsOfEach, await ProgramProcess.AskAsync<long>(_folder,
            "select count(*) from screenings s join infant_identifiers i using (infant_id) where i.value = any($1)", Cancel, [numbers]));
        Assert.Equal((long)numbers.Length, await ProgramProcess.AskAsync<long>(_folder,
            "select count(*) from births b join infant_identifiers i using (infant_id) where i.value = any($1)", Cancel, [numbers]));
    }

    private static string Number(int n) => string.Create(CultureInfo.InvariantCulture, $"K-{n}");

    /// <summary>A birth with a test of each ear, in one message.</summary>
    private static string Message(int n) =>
        Messages.Results(number: Number(n), control: Number(n), pv1: "PV1|1|I|NURSERY^1|N", at: "202511210915",
        header: $"MSH|^~\\&|SCREENING|HARBOUR|REGISTRY|LINDMERE|20251121100000||ORU^R01^ORU_R01|{Number(n)}|P|2.6")
        .Replace("20261120", "20251120", StringComparison.Ordinal).Replace("^Ada|", $"^Ada{n}|", StringComparison.Ordinal)
            .Replace("|Marlow^A", $"|Marlow{n}^A", StringComparison.Ordinal);

    /// <summary>A birth with one test, all or nothing.</summary>
    private static string Bundle(int n) =>
        """
        {"resourceType":"Bundle","type":"transaction","entry":[
        {"fullUrl":"urn:uuid:00000000-0000-4000-8000-000000000001","request":{"method":"POST","url":"Patient"},
         "resource":{"resourceType":"Patient","gender":"female","birthDate":"2025-11-20",
         "identifier":[{"system":"urn:x-test","value":"K-#"}]}},
        {"request":{"method":"POST","url":"Observation"},
         "resource":{"resourceType":"Observation","status":"final","effectiveDateTime":"2025-11-21T09:15:00Z",
         "subject":{"reference":"urn:uuid:00000000-0000-4000-8000-000000000001"},
         "code":{"coding":[{"system":"http://loinc.org","code":"54109-4"}]},
         "valueCodeableConcept":{"coding":[{"system":"http://loinc.org","code":"LA10392-1"}]},
         "method":{"coding":[{"system":"http://loinc.org","code":"LA10387-1"}]}}}]}
        """.Replace("#", n.ToString(CultureInfo.InvariantCulture), StringComparison.Ordinal);

    [GeneratedRegex("\"status\":\"20[01]\"")]
    private static partial Regex Accepted();
}
