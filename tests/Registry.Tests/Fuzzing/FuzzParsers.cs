using System.Diagnostics;
using System.Text;
using System.Text.RegularExpressions;
using System.Text.Unicode;
using Npgsql;
using Registry.Intake;
using Registry.Records;

namespace Registry.Tests.Fuzzing;

/// <summary>
/// Mutated files and messages through every parser, as the program reads them: inspected in pieces of any size, and what is not refused read
/// into rows and checked. What must hold for any bytes: no exception, no hang, and as many rows read as were counted.
/// Every case follows from its number, so one that fails can be run again alone.
/// </summary>
/// <remarks>Linked into the benchmark program, which runs a million.</remarks>
internal static class FuzzParsers
{
    /// <summary>An input that takes longer is called a hang.</summary>
    private static readonly TimeSpan Hang = TimeSpan.FromSeconds(10);

    private static readonly Dictionary<string, Guid> Sites = new() { ["harbour"] = Guid.NewGuid(), ["hill"] = Guid.NewGuid() };

    /// <summary>What a run saw.</summary>
    public sealed record Seen(int Inputs, int Refused, long Rows, long Valid, TimeSpan Slowest, string? Failure);

    /// <param name="documents">The folder whose pages hold the examples that are mutated: docs/intake.</param>
    /// <param name="first">Number of the first case.</param>
    /// <param name="count">How many.</param>
    /// <param name="cancel">Stops between two cases.</param>
    public static async Task<Seen> RunAsync(string documents, int first, int count, CancellationToken cancel)
    {
        var seeds = Seeds(documents);
        var check = new CheckRow(new DateOnly(2026, 11, 25), Sites);
        var batch = new RowBatch(16);
        await using var nowhere = NpgsqlDataSource.Create("Host=127.0.0.1;Port=1;Timeout=1"); // no parser may need it, but for a reference to an infant of ours
        var (refused, rows, valid, slowest) = (0, 0L, 0L, TimeSpan.Zero);
        for (var n = first; n < first + count && !cancel.IsCancellationRequested; n++)
        {
            var random = new Random(n);
            var (format, seed) = seeds[n % seeds.Count];
            var bytes = Mutate(seed, random);
            if (format != SubmissionFormat.Hl7V2 && !Utf8.IsValid(bytes))
            {
                refused++; // before any parser sees it
                continue;
            }

            var clock = Stopwatch.StartNew();
            try
            {
                var inspect = InspectSubmission.For(format, null);
                for (var at = 0; at < bytes.Length;)
                {
                    var length = Math.Min(random.Next(1, 200), bytes.Length - at);
                    inspect.Feed(bytes.AsSpan(at, length));
                    at += length;
                }

                inspect.End();
                if (inspect.Problems.Count > 0)
                {
                    refused++;
                    continue;
                }

                var read = 0;
                using var reader = await RowReader.OpenAsync(new HowToRead(format, null), new MemoryStream(bytes), TimeZoneInfo.Utc, new(nowhere, SiteId.New()), cancel);
                while (await reader.FillAsync(batch, cancel))
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
                if (read != inspect.RowCount) return Failed($"{inspect.RowCount} rows counted, {read} read");
            }
            catch (NpgsqlException) when (format == SubmissionFormat.Fhir)
            {
                continue;
            }
            catch (Exception e) when (e is not OperationCanceledException)
            {
                return Failed(e.ToString());
            }

            if (clock.Elapsed > Hang) return Failed($"took {clock.Elapsed.TotalSeconds:0.0} s");
            if (clock.Elapsed > slowest) slowest = clock.Elapsed;

            Seen Failed(string how) => new(n - first + 1, refused, rows, valid, slowest, $"case {n} ({format}): {how}\n{Convert.ToBase64String(bytes)}");
        }

        return new(count, refused, rows, valid, slowest, null);
    }

    /// <summary>The example of every page, in its format.</summary>
    private static List<(SubmissionFormat Format, byte[] Bytes)> Seeds(string documents)
    {
        var seeds = new List<(SubmissionFormat, byte[])>();
        foreach (var page in Directory.GetFiles(documents, "*.md").Order(StringComparer.Ordinal))
        {
            foreach (Match block in Regex.Matches(File.ReadAllText(page), "^```(csv|json|hl7|fwf)\n(.*?)^```", RegexOptions.Multiline | RegexOptions.Singleline))
            {
                var text = block.Groups[2].Value;
                switch (block.Groups[1].Value)
                {
                    case "csv": seeds.Add((SubmissionFormat.Csv, Encoding.UTF8.GetBytes(text))); break;
                    case "fwf": seeds.Add((SubmissionFormat.FixedWidth, Encoding.UTF8.GetBytes(text))); break;
                    case "hl7": seeds.Add((SubmissionFormat.Hl7V2, Encoding.UTF8.GetBytes(text.Replace('\n', '\r')))); break;
                    case "json" when text.Contains("\"rows\"", StringComparison.Ordinal):
                        seeds.Add((SubmissionFormat.Json, Encoding.UTF8.GetBytes(text)));
                        seeds.Add((SubmissionFormat.Ndjson, Encoding.UTF8.GetBytes(string.Join('\n', Regex.Matches(text, @"\{[^{}]*\}").Select(m => Regex.Replace(m.Value, @"\s+", " "))))));
                        break;
                    case "json" when text.Contains("\"resourceType\"", StringComparison.Ordinal):
                        seeds.Add((SubmissionFormat.Fhir, Encoding.UTF8.GetBytes(text)));
                        break;
                }
            }
        }

        return seeds;
    }

    private static readonly byte[] Telling = [.. "\",;:|^~\\&{}[]\r\n\t\v\0\u001c-+.09eETZ/=#"u8, 0xFF, 0xFE, 0xEF, 0xBB, 0xBF, 0xC3, 0x80];

    /// <summary>A few small changes anywhere: bytes changed, lost, doubled, moved, repeated.</summary>
    private static byte[] Mutate(byte[] seed, Random random)
    {
        var bytes = seed.ToList();
        for (var n = random.Next(1, 9); n > 0 && bytes.Count > 4; n--)
        {
            var at = random.Next(bytes.Count);
            switch (random.Next(8))
            {
                case 0: bytes[at] = (byte)random.Next(256); break;
                case 1: bytes.RemoveRange(at, Math.Min(random.Next(60), bytes.Count - at)); break;
                case 2: bytes.Insert(at, Telling[random.Next(Telling.Length)]); break;
                case 3: bytes.InsertRange(at, bytes.GetRange(at, Math.Min(random.Next(90), bytes.Count - at)).ToArray()); break;
                case 4: bytes[at] = Telling[random.Next(Telling.Length)]; break;
                case 5: (bytes[at], bytes[random.Next(bytes.Count)]) = (bytes[random.Next(bytes.Count)], bytes[at]); break;
                case 6: bytes.InsertRange(at, Enumerable.Repeat(Telling[random.Next(Telling.Length)], random.Next(200))); break;
                default: bytes.RemoveRange(at, bytes.Count - at); break;
            }
        }

        return [.. bytes];
    }
}
