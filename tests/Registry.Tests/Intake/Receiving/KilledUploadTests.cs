using System.Globalization;
using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json;
using Registry.Tests.Platform;

namespace Registry.Tests.Intake.Receiving;

/// <summary>
/// Acknowledged means committed: the program is killed (SIGKILL) at many moments of an upload, and PostgreSQL too. Afterwards every
/// acknowledged row is there once, without being sent again; everything else can be sent again safely. The moments follow what has
/// been sent, answered and stored, so that they are the same on a slow machine.
/// </summary>
public sealed class KilledUploadTests : IAsyncDisposable
{
    private const int Infants = 2_000;

    private static readonly (string, string)[] Settings =
    [
        ("Intake__ChunkRows", "500"), // so that there are moments between two
        ("Intake__RequestsPerMinute", "1000000"),
    ];

    private readonly ProgramFolder _folder = new();
    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    private enum Moment
    {
        HalfSent,
        Sent,
        Acknowledged,
        HalfStored,
    }

    public ValueTask DisposeAsync() => _folder.DisposeAsync();

    [Fact]
    public async Task Every_acknowledged_row_is_there_once_and_every_other_can_be_sent_again()
    {
        Assert.SkipUnless(OperatingSystem.IsLinux(), "sends signals");
        var program = await ProgramProcess.StartAsync(_folder, Cancel, Settings);
        try
        {
            var key = await ProgramProcess.AddSiteAsync(_folder, Cancel);
            var acknowledged = new List<string>();
            var others = new List<string>();
            foreach (var moment in Enum.GetValues<Moment>())
            {
                foreach (var whoElse in new[] { "nobody", "postgres" })
                {
                    var name = $"{moment}-{whoElse}";
                    using var file = new WatchedFile(File(name), stopHalfway: moment == Moment.HalfSent);
                    var sending = SendAsync(program, key, name, file);
                    await ComesAsync(moment, name, file, sending);
                    if (whoElse == "postgres") await ProgramProcess.KillPostgresAsync(_folder, Cancel);
                    await program.KillAsync(Cancel);
                    file.GoOn();
                    (await sending ? acknowledged : others).Add(name);
                    program.Dispose();
                    program = await ProgramProcess.StartAsync(_folder, Cancel, Settings);
                }
            }

            foreach (var name in acknowledged) await DoneAsync(name);
            foreach (var name in others)
            {
                Assert.True(await SendAsync(program, key, name), name);
                await DoneAsync(name);
            }

            // Sent once more under the same keys: nothing changes.
            foreach (var name in acknowledged.Concat(others)) Assert.True(await SendAsync(program, key, name), name);
            await AssertAllOnceAsync(acknowledged.Count + others.Count);
        }
        finally
        {
            program.Dispose();
        }
    }

    private async Task ComesAsync(Moment moment, string name, WatchedFile file, Task<bool> sending)
    {
        switch (moment)
        {
            case Moment.HalfSent:
                await file.HalfSent;
                break;
            case Moment.Sent:
                await file.Sent;
                break;
            default:
                Assert.True(await sending, name);
                if (moment == Moment.Acknowledged) break;
                await Eventually.HoldsAsync(async () => await ProgramProcess.AskAsync<long>(
                    _folder, "select count(*) from submission_rows join submissions s on s.id = submission_id where idempotency_key = $1",
                    Cancel, name) >= Infants);
                break;
        }
    }

    private Task DoneAsync(string name) => Eventually.HoldsAsync(async () =>
    {
        var state = await ProgramProcess.AskAsync<string>(
            _folder, "select state from submissions where idempotency_key = $1", Cancel, name);
        Assert.NotNull(state); // acknowledged, so it is there
        return state == "done";
    }, () => name);

    private async Task AssertAllOnceAsync(int files)
    {
        var all = (long)files * Infants;
        foreach (var (sql, expected) in new (string, long)[]
        {
            ("select count(*) from infants", all),
            ("select count(*) from births where superseded_at is null", all),
            ("select count(*) from births", all),
            ("select count(*) from screenings", all),
            ("select count(*) from infant_status", all),
            ("select count(distinct record_number) from (select value as record_number from infant_identifiers) i", all),
            ("select count(*) from submission_rows where outcome = 'accepted'", 2 * all),
            ("select count(*) from submission_rows where outcome <> 'accepted'", 0),
            ("select count(*) from submissions where state <> 'done'", 0),
            ("select count(*) from submissions", files),
        })
            Assert.Equal((sql, expected), (sql, await ProgramProcess.AskAsync<long>(_folder, sql, Cancel)));
    }

    private static async Task<bool> SendAsync(ProgramProcess program, string key, string name)
    {
        using var file = new WatchedFile(File(name), stopHalfway: false);
        return await SendAsync(program, key, name, file);
    }

    /// <returns>Whether it was acknowledged.</returns>
    private static async Task<bool> SendAsync(ProgramProcess program, string key, string name, WatchedFile file)
    {
        using var http = program.Client(key);
        using var request = new HttpRequestMessage(HttpMethod.Post, "/api/v1/submissions") { Content = file };
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

    /// <summary>A file that says how far it has been sent, and may stop in the middle until it is told to go on.</summary>
    private sealed class WatchedFile : HttpContent
    {
        private readonly TaskCompletionSource _half = new(), _all = new(), _goOn = new();
        private readonly byte[] _bytes;

        public WatchedFile(string text, bool stopHalfway)
        {
            _bytes = Encoding.UTF8.GetBytes(text);
            if (!stopHalfway) GoOn();
            Headers.ContentType = new("text/csv");
        }

        public Task HalfSent => _half.Task.WaitAsync(Eventually.Patience, Cancel);
        public Task Sent => _all.Task.WaitAsync(Eventually.Patience, Cancel);
        public void GoOn() => _goOn.TrySetResult();

        protected override async Task SerializeToStreamAsync(Stream stream, TransportContext? context)
        {
            await stream.WriteAsync(_bytes.AsMemory(0, _bytes.Length / 2), Cancel);
            await stream.FlushAsync(Cancel);
            _half.TrySetResult();
            await _goOn.Task;
            await stream.WriteAsync(_bytes.AsMemory(_bytes.Length / 2), Cancel);
            await stream.FlushAsync(Cancel);
            _all.TrySetResult();
        }

        protected override bool TryComputeLength(out long length)
        {
            length = _bytes.Length;
            return true;
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
