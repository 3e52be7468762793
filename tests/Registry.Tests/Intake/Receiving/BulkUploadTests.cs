using System.Diagnostics;
using System.Globalization;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text.Json;
using Registry.Tests.Platform;

namespace Registry.Tests.Intake.Receiving;

/// <summary>Measures the program as a process of its own, so that nothing but the upload is in it; nothing else runs beside it.</summary>
[CollectionDefinition(nameof(BulkUploadTests), DisableParallelization = true)]
public sealed class BulkUploadCollection;

[Collection(nameof(BulkUploadTests))]
public sealed class BulkUploadTests(ITestOutputHelper output) : IAsyncDisposable
{
    private const int Rows = 100_000;
    private const int MayGrowBy = 128 * 1024 * 1024;

    private readonly ProgramFolder _folder = new();
    private static CancellationToken Cancel => TestContext.Current.CancellationToken;

    public ValueTask DisposeAsync() => _folder.DisposeAsync();

    [Fact]
    public async Task A_hundred_thousand_rows_do_not_grow_memory_with_the_file()
    {
        using var program = await ProgramProcess.StartAsync(_folder, Cancel);
        using var http = program.Client(await ProgramProcess.AddSiteAsync(_folder, Cancel));
        await SendAsync(http, 8_000, seed: "w"); // code, pools and plans are warm
        var (resident, peak) = (WorkingSet(program), 0L);

        using var stop = new CancellationTokenSource();
        var watch = Task.Run(async () =>
        {
            while (!stop.IsCancellationRequested)
            {
                peak = Math.Max(peak, WorkingSet(program));
                await Task.Delay(50);
            }
        }, Cancel);
        var clock = Stopwatch.StartNew();
        await SendAsync(http, Rows, seed: "b");
        clock.Stop();
        await stop.CancelAsync();
        await watch;

        output.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"{Rows} rows: {clock.Elapsed.TotalSeconds:0.0} s, {Rows / clock.Elapsed.TotalSeconds:0} rows/s; resident "
                + $"+{(peak - resident) / 1048576} MiB at peak, from {resident / 1048576}"));
        Assert.Equal(Rows + 8_000L, await ProgramProcess.AskAsync<long>(
            _folder, "select (select count(*) from infants) + (select count(*) from screenings)", Cancel));
        Assert.InRange(peak - resident, long.MinValue, MayGrowBy);
    }

    private static long WorkingSet(ProgramProcess program)
    {
        program.Process.Refresh();
        return program.Process.WorkingSet64;
    }

    /// <summary>Sends a file and waits until every row of it is accepted.</summary>
    private static async Task SendAsync(HttpClient http, int rows, string seed)
    {
        using var body = new StreamContent(new GeneratedLines(Header, rows, row => Line(seed, row)));
        body.Headers.ContentType = new MediaTypeHeaderValue("text/csv");
        using var answer = await http.PostAsync("/api/v1/submissions", body, Cancel);
        Assert.Equal(System.Net.HttpStatusCode.Accepted, answer.StatusCode);
        while (true)
        {
            var status = await http.GetFromJsonAsync<JsonElement>(answer.Headers.Location, Cancel);
            if (status.GetProperty("state").GetString() == "done")
            {
                Assert.Equal(rows, status.GetProperty("accepted").GetInt32());
                return;
            }

            await Task.Delay(100, Cancel);
        }
    }

    private const string Header = "kind," + IntakeBed.Who
        + ",birth_time,plurality,gestation_weeks,birth_weight_g,infant_family_name,county,language,ear,outcome,method,performed_at,instrument,probe,screener";

    /// <summary>Two years of births, each followed by one test.</summary>
    private static string Line(string seed, int row)
    {
        var n = row / 2;
        var born = new DateOnly(2024, 11, 1).AddDays(n % 730);
        return row % 2 == 0
            ? string.Create(CultureInfo.InvariantCulture,
                $"birth,{seed}{n},,{born:yyyy-MM-dd},{(n % 2 == 0 ? "female" : "male")},,Given{seed}{n % 97},Family{seed}{n},"
                + $"{1985 + (n % 20)}-0{1 + (n % 9)}-1{n % 9},07:{n % 60:00},1,39,{2500 + (n % 1500)},Family{n},Lind,en,,,,,,,")
            : string.Create(CultureInfo.InvariantCulture,
                $"screening,{seed}{n},,,,,,,,,,,,,,,{(n % 2 == 0 ? "right" : "left")},{(n % 20 == 0 ? "refer" : "pass")},aabr,"
                + $"{born.AddDays(1):yyyy-MM-dd}T10:{n % 60:00},UNIT-{n % 4},P{n % 7},SC{n % 11}");
    }
}
