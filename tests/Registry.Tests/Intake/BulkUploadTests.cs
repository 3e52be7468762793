using System.Diagnostics;
using System.Globalization;
using System.Text;
using Registry.Intake;
using Registry.Records;

namespace Registry.Tests.Intake;

/// <summary>Measures the process, so nothing else may run beside it.</summary>
[CollectionDefinition(nameof(BulkUploadTests), DisableParallelization = true)]
public sealed class BulkUploadCollection;

[Collection(nameof(BulkUploadTests))]
public sealed class BulkUploadTests(TestDatabase database, ITestOutputHelper output)
{
    private const int Rows = 100_000;
    private const int MayGrowBy = 128 * 1024 * 1024;

    [Fact]
    public async Task A_hundred_thousand_rows_do_not_grow_memory_with_the_file()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await SendAsync(bed, 4_000, seed: "w"); // code, pools and plans are warm
        GC.Collect(2, GCCollectionMode.Aggressive, blocking: true, compacting: true);
        var before = GC.GetTotalMemory(true);
        var process = Process.GetCurrentProcess();
        var (resident, peak) = (process.WorkingSet64, 0L);

        using var stop = new CancellationTokenSource();
        var watch = Task.Run(async () =>
        {
            while (!stop.IsCancellationRequested)
            {
                process.Refresh();
                peak = Math.Max(peak, process.WorkingSet64);
                await Task.Delay(50);
            }
        }, IntakeBed.Ct);
        var clock = Stopwatch.StartNew();
        var (id, received) = await SendAsync(bed, Rows, seed: "b");
        clock.Stop();
        await stop.CancelAsync();
        await watch;

        var after = GC.GetTotalMemory(true);
        output.WriteLine(string.Create(CultureInfo.InvariantCulture,
            $"{Rows} rows: received in {received.TotalSeconds:0.0} s, in all {clock.Elapsed.TotalSeconds:0.0} s, {Rows / clock.Elapsed.TotalSeconds:0} rows/s; resident +{(peak - resident) / 1048576} MiB at peak; live heap +{(after - before) / 1048576} MiB"));
        Assert.Equal([$"done {Rows} {Rows} {Rows} 0"], await bed.ListAsync(
            "select concat_ws(' ', state, row_count, rows_done, accepted, rejected + held + unchanged) from submissions where id = $1", id.Value));
        Assert.Equal(Rows + 4_000, await bed.CountAsync("infants") + await bed.CountAsync("screenings"));
        Assert.InRange(peak - resident, long.MinValue, MayGrowBy);
    }

    private static async Task<(SubmissionId Id, TimeSpan Received)> SendAsync(IntakeBed bed, int rows, string seed)
    {
        var clock = Stopwatch.StartNew();
        await using var file = new GeneratedCsv(rows, seed);
        var receipt = await bed.Receive.ReceiveAsync(bed.Harbour, SubmissionFormat.Csv, null, file, default, bed.Now, ct: IntakeBed.Ct);
        Assert.Equal(ReceiptKind.Received, receipt.Kind);
        var received = clock.Elapsed;
        Assert.True(await bed.Process.RunAsync(receipt.Id.Value, IntakeBed.Ct));
        return (receipt.Id, received);
    }

    /// <summary>Two years of births, each followed by one test, made while it is read.</summary>
    private sealed class GeneratedCsv(int rows, string seed) : Stream
    {
        private byte[] _part = Encoding.UTF8.GetBytes(
            $"kind,{IntakeBed.Who},birth_time,plurality,gestation_weeks,birth_weight_g,infant_family_name,county,language,ear,outcome,method,performed_at,instrument,probe,screener\n");
        private int _position, _row;

        public override ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default)
        {
            if (_position == _part.Length)
            {
                var text = new StringBuilder(1 << 15);
                for (var i = 0; i < 200 && _row < rows; i++, _row++) text.Append(Line(_row)).Append('\n');
                (_part, _position) = (Encoding.UTF8.GetBytes(text.ToString()), 0);
            }

            var length = Math.Min(buffer.Length, _part.Length - _position);
            _part.AsMemory(_position, length).CopyTo(buffer);
            _position += length;
            return ValueTask.FromResult(length);
        }

        private string Line(int row)
        {
            var n = row / 2;
            var born = new DateOnly(2024, 11, 1).AddDays(n % 730);
            return row % 2 == 0
                ? string.Create(CultureInfo.InvariantCulture, $"birth,{seed}{n},,{born:yyyy-MM-dd},{(n % 2 == 0 ? "female" : "male")},,Given{seed}{n % 97},Family{seed}{n},{1985 + (n % 20)}-0{1 + (n % 9)}-1{n % 9},07:{n % 60:00},1,39,{2500 + (n % 1500)},Family{n},Lind,en,,,,,,,")
                : string.Create(CultureInfo.InvariantCulture, $"screening,{seed}{n},,,,,,,,,,,,,,,{(n % 2 == 0 ? "right" : "left")},{(n % 20 == 0 ? "refer" : "pass")},aabr,{born.AddDays(1):yyyy-MM-dd}T10:{n % 60:00},UNIT-{n % 4},P{n % 7},SC{n % 11}");
        }

        public override bool CanRead => true;
        public override bool CanSeek => false;
        public override bool CanWrite => false;
        public override long Length => throw new NotSupportedException();
        public override long Position { get => throw new NotSupportedException(); set => throw new NotSupportedException(); }
        public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();
        public override void Flush() => throw new NotSupportedException();
        public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();
        public override void SetLength(long value) => throw new NotSupportedException();
        public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();
    }
}
