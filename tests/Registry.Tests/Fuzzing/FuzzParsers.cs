using System.Diagnostics;
using Registry.Intake.Formats;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Tests.Fuzzing;

/// <summary>
/// Mutated files and messages through every parser, as the program reads them: inspected in pieces of any size, and what is not refused
/// read into rows and checked. What must hold for any bytes: no exception, no hang, and as many rows read as were counted.
/// </summary>
/// <remarks>Linked into the benchmark program, which runs a million.</remarks>
internal static class FuzzParsers
{
    /// <summary>An input that takes longer is called a hang.</summary>
    private static readonly TimeSpan Hang = TimeSpan.FromMinutes(1);

    private static readonly Dictionary<string, Guid> Sites = new() { ["harbour"] = Guid.NewGuid(), ["hill"] = Guid.NewGuid() };

    /// <summary>What a run saw.</summary>
    public sealed record Seen(int Inputs, int Refused, long Rows, long Valid, TimeSpan Slowest, string? Failure);

    /// <param name="cases">The inputs.</param>
    /// <param name="first">Number of the first case.</param>
    /// <param name="count">How many.</param>
    /// <param name="ct">Stops between two cases.</param>
    public static async Task<Seen> RunAsync(FuzzCases cases, int first, int count, CancellationToken ct)
    {
        var batch = new RowBatch(16);
        var check = new CheckRow(new DateOnly(2026, 11, 25), Sites, ofVitalRecords: true);
        var (refused, rows, valid, slowest) = (0, 0L, 0L, TimeSpan.Zero);
        for (var n = first; n < first + count && !ct.IsCancellationRequested; n++)
        {
            var one = cases.Case(n);
            var clock = Stopwatch.StartNew();
            try
            {
                var inspected = await InspectAsync(one, ct);
                if (inspected.Problems.Count > 0)
                {
                    refused++;
                    continue;
                }

                var read = 0;
                using var reader = await OpenAsync(one, inspected.Read, ct);
                while (await reader.FillAsync(batch, ct))
                {
                    read += batch.Count;
                    for (var row = 0; row < batch.Count; row++)
                    {
                        if (check.Check(batch, row, out _, out var problems) is not null) valid++;
                        else if (problems.Count == 0) return Failed("a row that is not valid has no problem");
                        batch.ToJson(row);
                    }
                }

                rows += read;
                if (read != inspected.RowCount) return Failed($"{inspected.RowCount} rows counted, {read} read");
            }
            catch (Exception e) when (e is not OperationCanceledException)
            {
                return Failed(e.ToString());
            }

            if (clock.Elapsed > Hang) return Failed($"took {clock.Elapsed.TotalSeconds:0.0} s");
            if (clock.Elapsed > slowest) slowest = clock.Elapsed;

            Seen Failed(string how) =>
                new(n - first + 1, refused, rows, valid, slowest,
                $"case {n} ({one.Format}{(one.Gzip ? ", gzip" : "")}): {how}\n{Convert.ToBase64String(one.Bytes)}");
        }

        return new(count, refused, rows, valid, slowest, null);
    }

    private static async Task<Inspected> InspectAsync(FuzzCase one, CancellationToken ct)
    {
        var sent = new SentFile(SiteId.New(), one.Format, default, new(2026, 11, 25, 12, 0, 0, TimeSpan.Zero)) { Gzip = one.Gzip };
        await using var bytes = new ReceivedBytes(new InPieces(one.Bytes, new Random(one.Number)), one.Bytes.Length, keep: null);
        return await InspectFile.RunAsync(
            sent, bytes, () => new MemoryStream(one.Bytes), _ => Task.FromResult(
                one.Mapping is { } m ? new SavedMapping(default, "ward list", 1, m) : null), new(), ct);
    }

    /// <summary>As <see cref="OpenRows.ToReadAsync"/>, without a database: no reference finds an infant of ours.</summary>
    private static async Task<RowReader> OpenAsync(FuzzCase one, FileReading read, CancellationToken ct) =>
        one.Format == SubmissionFormat.Fhir
        ? new ReadFhirRows(TranslateBundle.Run(ParseBundle.Read(one.Bytes), TimeZoneInfo.Utc, new Dictionary<Guid, KnownPatient>()))
        : await OpenRows.ToReadAsync(read, new MemoryStream(one.Bytes), TimeZoneInfo.Utc, null!, ct);

    /// <summary>Gives a few bytes at a time, as a network may.</summary>
    private sealed class InPieces(byte[] bytes, Random random) : MemoryStream(bytes)
    {
        public override int Read(Span<byte> buffer) => base.Read(buffer[..Math.Min(buffer.Length, random.Next(1, 200))]);
        public override ValueTask<int> ReadAsync(Memory<byte> buffer, CancellationToken cancellationToken = default) =>
            ValueTask.FromResult(Read(buffer.Span));
    }
}
