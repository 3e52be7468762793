using System.Collections.Concurrent;
using System.Globalization;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Registry.Platform.EmbeddedPostgres;
using Registry.Tests.Platform;

namespace Registry.Tests.Intake.Receiving;

/// <summary>
/// Acknowledged means committed: the program is killed (SIGKILL) at many moments of an upload, and PostgreSQL too. Afterwards every
/// acknowledged row is there once, without being sent again; everything else can be sent again safely.
/// </summary>
public sealed class KilledUploadTests : IAsyncDisposable
{
    private const int Infants = 2_000;

    private readonly string _folder = EmbeddedPostgresTests.TemporaryFolder();
    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    public async ValueTask DisposeAsync()
    {
        await EmbeddedServer.StopIfUnusedAsync(new() { DataFolder = _folder }, _ => { }, CancellationToken.None);
        Directory.Delete(_folder, recursive: true);
    }

    [Fact]
    public async Task Every_acknowledged_row_is_there_once_and_every_other_can_be_sent_again()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "sends signals");
        var program = await ProgramProcess.StartAsync(_folder, Cancel);
        try
        {
            var key = await ProgramProcess.AddSiteAsync(_folder, Cancel);
            var acknowledged = new List<string>();
            var others = new List<string>();
            var moments = new[] { 5, 40, 120, 250, 450, 800, 1_300, 2_000 };
            for (var i = 0; i < moments.Length; i++)
            {
                var name = $"u{i}";
                var sending = SendAsync(program, key, name);
                await Task.Delay(moments[i], Cancel);
                if (i % 2 == 1) await ProgramProcess.KillPostgresAsync(_folder, Cancel);
                await program.KillAsync(Cancel);
                (await sending ? acknowledged : others).Add(name);
                program.Dispose();
                program = await ProgramProcess.StartAsync(_folder, Cancel);
            }

            Assert.NotEmpty(acknowledged); // else the moments are all too early to prove anything
            foreach (var name in acknowledged) await DoneAsync(name);
            foreach (var name in others)
            {
                Assert.True(await SendAsync(program, key, name), name);
                await DoneAsync(name);
            }

            // Sent once more under the same keys: nothing changes.
            foreach (var name in acknowledged.Concat(others)) Assert.True(await SendAsync(program, key, name), name);
            var all = (long)moments.Length * Infants;
            foreach (var (sql, expected) in new (string, long)[]
            {
                ("select count(*) from infants", all), ("select count(*) from births where superseded_at is null", all),
                    ("select count(*) from births", all),
                ("select count(*) from screenings", all), ("select count(*) from infant_status", all),
                ("select count(distinct record_number) from (select value as record_number from infant_identifiers) i", all),
                ("select count(*) from submission_rows where outcome = 'accepted'", 2 * all),
                ("select count(*) from submission_rows where outcome <> 'accepted'", 0),
                ("select count(*) from submissions where state <> 'done'", 0), ("select count(*) from submissions", moments.Length),
            })
                Assert.Equal((sql, expected), (sql, await ProgramProcess.AskAsync<long>(_folder, sql, Cancel)));
        }
        finally
        {
            program.Dispose();
        }

        async Task DoneAsync(string name)
        {
            for (var wait = 0; ; wait++)
            {
                var state = await ProgramProcess.AskAsync<string>(_folder, "select state from submissions where idempotency_key = $1",
                    Cancel, name);
                Assert.NotNull(state); // acknowledged, so it is there
                if (state == "done") return;
                Assert.True(wait < 300, $"{name} is still {state}");
                await Task.Delay(200, Cancel);
            }
        }
    }

    /// <summary>Single results, many at a time: they share transactions, and each is answered for itself. First PostgreSQL crashes and
    /// recovers while the program lives, then the program is killed.</summary>
    [Fact]
    public async Task A_result_that_was_answered_is_there_once_whoever_crashes()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "sends signals");
        var program = await ProgramProcess.StartAsync(_folder, Cancel);
        try
        {
            var key = await ProgramProcess.AddSiteAsync(_folder, Cancel);
            var (acknowledged, others) = (new ConcurrentBag<int>(), new ConcurrentBag<int>());
            var next = 0;
            for (var crash = 0; crash < 5; crash++)
            {
                using var ct = CancellationTokenSource.CreateLinkedTokenSource(Cancel);
                var clients = Enumerable.Range(0, 8).Select(_ => SendOnAsync(ct.Token)).ToList();
                for (var moment = 0; moment < 3; moment++)
                {
                    await Task.Delay(300 + (170 * moment) + (90 * crash), Cancel);
                    if (crash < 3) await ProgramProcess.CrashPostgresAsync(_folder, Cancel);
                }

                if (crash >= 3) await program.KillAsync(Cancel);
                await ct.CancelAsync();
                await Task.WhenAll(clients);
                if (crash < 3) continue;
                program.Dispose();
                program = await ProgramProcess.StartAsync(_folder, Cancel);
            }

            Assert.True(acknowledged.Count > 100 && !others.IsEmpty, $"{acknowledged.Count} answered, {others.Count} not");
            Assert.Equal(acknowledged.Count, await ProgramProcess.AskAsync<long>(
                _folder, "select count(*) from births b join infant_identifiers i on i.infant_id = b.infant_id where i.value = any($1)",
                Cancel, [acknowledged.Select(n => $"S{n}").ToArray()]));
            using var http = Client(program, key);
            foreach (var n in others) Assert.True(await SendOneAsync(http, n), $"{n}");
            foreach (var table in new[] { "infants", "births", "infant_status", "submissions",
                "submission_rows where outcome = 'accepted'" })
                Assert.Equal((table, next), (table, await ProgramProcess.AskAsync<long>(_folder, $"select count(*) from {table}", Cancel)));

            async Task SendOnAsync(CancellationToken ct)
            {
                using var http = Client(program, key);
                while (!ct.IsCancellationRequested)
                {
                    var n = Interlocked.Increment(ref next) - 1;
                    (await SendOneAsync(http, n) ? acknowledged : others).Add(n);
                }
            }
        }
        finally
        {
            program.Dispose();
        }
    }

    private static HttpClient Client(ProgramProcess program, string key)
    {
        var http = new HttpClient { BaseAddress = new(program.Address) };
        http.DefaultRequestHeaders.Authorization = new AuthenticationHeaderValue("Bearer", key);
        return http;
    }

    /// <returns>Whether it was answered with its outcome.</returns>
    private static async Task<bool> SendOneAsync(HttpClient http, int n)
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/submissions")
        {
            Content = new StringContent(
                $$"""{"rows":[{"kind":"birth","record_number":"S{{n}}","birth_date":"{{new DateOnly(2024, 1, 1).AddDays(n % 700):yyyy-MM-dd}}","sex":"male","mother_family_name":"Family{{n}}"}]}""", Encoding.UTF8, "application/json"),
        };
        request.Headers.Add("Idempotency-Key", $"S{n}");
        try
        {
            using var answer = await http.SendAsync(request, Cancel);
            if ((int)answer.StatusCode is >= 500 or 409) return false;
            var text = await answer.Content.ReadAsStringAsync(Cancel);
            Assert.True(answer.IsSuccessStatusCode && text.Contains("\"outcome\":\"accepted\"", StringComparison.Ordinal), text);
            return true;
        }
        catch (Exception e) when (e is HttpRequestException or IOException)
        {
            return false;
        }
    }

    /// <returns>Whether it was acknowledged.</returns>
    private static async Task<bool> SendAsync(ProgramProcess program, string key, string name)
    {
        using var http = new HttpClient { BaseAddress = new(program.Address) };
        using var request = new HttpRequestMessage(
            HttpMethod.Post, "/api/v1/submissions")
        { Content = new StringContent(File(name), Encoding.UTF8, "text/csv") };
        request.Headers.Authorization = new AuthenticationHeaderValue("Bearer", key);
        request.Headers.Add("Idempotency-Key", name);
        try
        {
            using var answer = await http.SendAsync(request, Cancel);
            if (!answer.IsSuccessStatusCode) return false; // the database had just been killed
            Assert.Equal(2 * Infants, (await answer.Content.ReadFromJsonAsync<JsonElement>(Cancel)).GetProperty("submission")
                .GetProperty("rows").GetInt32());
            return true;
        }
        catch (Exception e) when (e is HttpRequestException or IOException)
        {
            return false;
        }
    }

    private static string File(string name)
    {
        var text = new StringBuilder(
            "kind,record_number,birth_date,sex,mother_given_name,mother_family_name,ear,outcome,method,performed_at\n");
        for (var n = 0; n < Infants; n++)
        {
            var born = new DateOnly(2025, 1, 1).AddDays(n % 300);
            text.Append(CultureInfo.InvariantCulture, $"birth,{name}-{n},{born:yyyy-MM-dd},female,Given{n},Family{name}{n},,,,\n");
            text.Append(CultureInfo.InvariantCulture, $"screening,{name}-{n},,,,,right,pass,aabr,{born.AddDays(1):yyyy-MM-dd}T10:00\n");
        }

        return text.ToString();
    }
}
