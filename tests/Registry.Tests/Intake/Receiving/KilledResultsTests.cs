using System.Collections.Concurrent;
using System.Diagnostics;
using System.Globalization;
using System.Net;
using System.Runtime.ExceptionServices;
using System.Text;
using Registry.Tests.Platform;

namespace Registry.Tests.Intake.Receiving;

/// <summary>
/// Single results, many at a time: they share transactions, and each is answered for itself. First PostgreSQL crashes and recovers
/// while the program lives, then the program is killed. What was answered is there once; everything else can be sent again.
/// </summary>
public sealed class KilledResultsTests(ITestOutputHelper output) : IAsyncDisposable
{
    private static readonly (string, string)[] Settings = [("Intake__RequestsPerMinute", "1000000")];

    private readonly ProgramFolder _folder = new();
    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    public ValueTask DisposeAsync() => _folder.DisposeAsync();

    [Fact]
    public async Task A_result_that_was_answered_is_there_once_whoever_crashes()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "sends signals");
        var program = await ProgramProcess.StartAsync(_folder, Cancel, Settings);
        try
        {
            var key = await ProgramProcess.AddSiteAsync(_folder, Cancel);
            var results = new SingleResults();
            await results.SendWhileAsync(program, key, async () =>
            {
                for (var crash = 0; crash < 9; crash++)
                {
                    await results.AnsweredAsync(15);
                    await ProgramProcess.CrashPostgresAsync(_folder, Cancel);
                    var recovered = Stopwatch.StartNew();
                    await results.AnsweredAsync(1);
                    output.WriteLine(string.Create(CultureInfo.InvariantCulture,
                        $"first answer {recovered.Elapsed.TotalSeconds:0.00} s after PostgreSQL took connections again"));
                }
            });
            for (var kill = 0; kill < 2; kill++)
            {
                var killed = program;
                await results.SendWhileAsync(program, key, async () =>
                {
                    await results.AnsweredAsync(40 * (kill + 1));
                    await killed.KillAsync(Cancel);
                });
                program.Dispose();
                program = await ProgramProcess.StartAsync(_folder, Cancel, Settings);
            }

            output.WriteLine($"{results.Answered.Count} answered, {results.Others.Count} not");
            Assert.NotEmpty(results.Others); // else no crash hit one on its way
            Assert.Equal(results.Answered.Count, await ProgramProcess.AskAsync<long>(
                _folder, "select count(*) from births b join infant_identifiers i on i.infant_id = b.infant_id where i.value = any($1)",
                Cancel, [results.Answered.Select(n => $"S{n}").ToArray()]));
            using var http = program.Client(key);
            foreach (var n in results.Others) Assert.True(await SingleResults.SendAsync(http, n) is null, $"{n}");
            foreach (var table in new[] { "infants", "births", "infant_status", "submissions",
                "submission_rows where outcome = 'accepted'" })
                Assert.Equal((table, results.Count),
                    (table, await ProgramProcess.AskAsync<long>(_folder, $"select count(*) from {table}", Cancel)));
        }
        finally
        {
            program.Dispose();
        }
    }

    /// <summary>Clients that send one result after the other, each under a key of its own, and wait when they are refused.</summary>
    private sealed class SingleResults
    {
        private const int Clients = 8;
        private List<Task> _clients = [];
        private int _next;

        public ConcurrentBag<int> Answered { get; } = [];
        public ConcurrentBag<int> Others { get; } = [];
        public int Count => _next;

        /// <summary>Until as many more are answered as said.</summary>
        public Task AnsweredAsync(int more)
        {
            var enough = Answered.Count + more;
            return Eventually.HoldsAsync(() =>
            {
                if (_clients.Find(c => c.IsFaulted) is { } client) ExceptionDispatchInfo.Throw(client.Exception!.InnerException!);
                return Answered.Count >= enough;
            }, () => $"{Answered.Count} answered, {Others.Count} not");
        }

        public async Task SendWhileAsync(ProgramProcess program, string key, Func<Task> run)
        {
            using var enough = CancellationTokenSource.CreateLinkedTokenSource(Cancel);
            _clients = Enumerable.Range(0, Clients).Select(_ => SendUntilAsync(enough.Token)).ToList();
            try
            {
                await run();
            }
            finally
            {
                await enough.CancelAsync();
                await Task.WhenAll(_clients);
            }

            async Task SendUntilAsync(CancellationToken enough)
            {
                using var http = program.Client(key);
                while (!enough.IsCancellationRequested)
                {
                    var n = Interlocked.Increment(ref _next) - 1;
                    var refused = await SendAsync(http, n);
                    (refused is null ? Answered : Others).Add(n);
                    if (refused is { } pause) await Task.WhenAny(Task.Delay(pause, enough));
                }
            }
        }

        /// <returns>How long to wait before the next, when it was not answered with its outcome.</returns>
        public static async Task<TimeSpan?> SendAsync(HttpClient http, int n)
        {
            using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/submissions")
            {
                Content = new StringContent(
                    $$"""
                    {"rows":[{"kind":"birth","record_number":"S{{n}}","sex":"male","mother_family_name":"Family{{n}}",
                     "birth_date":"{{new DateOnly(2024, 1, 1).AddDays(n % 700):yyyy-MM-dd}}"}]}
                    """, Encoding.UTF8, "application/json"),
            };
            request.Headers.Add("Idempotency-Key", $"S{n}");
            try
            {
                using var answer = await http.SendAsync(request, Cancel);
                if (answer.StatusCode is >= HttpStatusCode.InternalServerError or HttpStatusCode.Conflict)
                    return answer.Headers.RetryAfter?.Delta ?? TimeSpan.FromMilliseconds(50);
                var text = await answer.Content.ReadAsStringAsync(Cancel);
                Assert.True(answer.IsSuccessStatusCode && text.Contains("\"outcome\":\"accepted\"", StringComparison.Ordinal), text);
                return null;
            }
            catch (Exception e) when (e is HttpRequestException or IOException)
            {
                return TimeSpan.FromMilliseconds(50);
            }
        }
    }
}
