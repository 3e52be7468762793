using System.Diagnostics;
using System.Globalization;
using System.Text;
using Registry.Intake.Formats.Hl7V2;
using Registry.Intake.Rows;
using Registry.Tests.Intake.Formats.Hl7V2;

namespace Registry.Bench;

/// <summary>
/// Messages of both kinds, parsed, their codes looked up, made into rows, on one core; beside two npm parsers that read the same
/// messages in the same run and take no more than a few fields of each. Last line: <c>ratio: ours / the faster of the two</c>.
/// </summary>
internal static class BenchV2
{
    private const int Infants = 500;
    private const double Goal = 5;

    /// <summary>Two seconds of turns. Sixty ended while the compiler still instrumented what it would compile again, and measured that:
    /// the same program gave 250,000 or 330,000 messages a second, by chance.</summary>
    private const int Turns = 600;

    public static async Task<int> RunAsync()
    {
        var messages = Enumerable.Range(1, Infants).SelectMany(i => new[] { Admission(i), Results(i) }).ToList();
        var bytes = Encoding.UTF8.GetBytes(string.Concat(messages));
        var file = Path.GetTempFileName();
        try
        {
            await File.WriteAllTextAsync(file, string.Join("\n\n", messages));
            var (ours, rows, allocated) = await BestAsync(bytes, messages.Count);
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture,
                $"messages: {messages.Count}, {bytes.Length / messages.Count} bytes each; ours: {ours:0} messages/s into {rows} rows, "
                    + $"{allocated / messages.Count} bytes allocated each"));
            var others = await NodeTool.RunAsync(Root(), "parse.js", [file], CancellationToken.None);
            foreach (var line in others) Console.WriteLine($"{line} messages/s");
            var faster = others.Max(l => double.Parse(l.Split(' ')[1], CultureInfo.InvariantCulture));
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"ratio: {ours / faster:0.0}"));
            return ours >= Goal * faster ? 0 : 1;
        }
        finally
        {
            File.Delete(file);
        }
    }

    private static async Task<(double PerSecond, int Rows, long Allocated)> BestAsync(byte[] bytes, int messages)
    {
        var (best, rows, allocated) = (0.0, 0, 0L);
        var batch = new RowBatch(2_000);
        for (var turn = 0; turn < Turns; turn++)
        {
            var before = GC.GetAllocatedBytesForCurrentThread();
            var started = Stopwatch.GetTimestamp();
            rows = 0;
            using var reader = new ReadHl7V2Rows(new MemoryStream(bytes), TimeZoneInfo.Utc);
            while (await reader.FillAsync(batch, CancellationToken.None)) rows += batch.Count;
            best = Math.Max(best, messages / Stopwatch.GetElapsedTime(started).TotalSeconds);
            allocated = GC.GetAllocatedBytesForCurrentThread() - before;
        }

        return (best, rows, allocated);
    }

    private static string Root()
    {
        var folder = AppContext.BaseDirectory;
        while (!File.Exists(Path.Combine(folder, "Registry.sln"))) folder = Path.GetDirectoryName(folder)!;
        return folder;
    }

    private static string Admission(int i) => Message(
        $"MSH|^~\\&|WARD|HARBOUR|REGISTRY|LINDMERE|20261121080000||ADT^A01^ADT_A01|A-{i}|P|2.6||||||UNICODE UTF-8",
        "EVN|A01|20261121080000",
        $"PID|1||{i}^^^HARBOUR^MR||Marlow-{i}^Girl||202611200441|F|||1 Quay Road^^Harbour^^^^^^Lind||||en|||||||||N",
        $"NK1|1|Marlow-{i}^Ada|MTH^Mother^HL70063||^PRN^PH^^^555^0123~^NET^Internet^ada{i}@example.test|||||||||||19950203",
        "PV1|1|I|NURSERY^1|N||||||||||||||||||||||||||||||||||||||||202611200500|202611221000");

    private static string Results(int i) => Message(
        $"MSH|^~\\&|SCREENING|HARBOUR|REGISTRY|LINDMERE|20261121100000||ORU^R01^ORU_R01|R-{i}|P|2.6||||||UNICODE UTF-8",
        $"PID|1||{i}^^^HARBOUR^MR||Marlow-{i}^Girl||20261120|F|||||||||||||||||N",
        $"NK1|1|Marlow-{i}^Ada|MTH^Mother^HL70063|||||||||||||19950203",
        "PV1|1|I|NURSERY^1",
        "OBR|1||1|54111-0^Newborn hearing screening panel^LN|||202611210915",
        "OBX|1|CWE|58232-0^Hearing loss risk indicators^LN|1|LA6172-6^Family history of hearing loss^LN~LA12668-2^NICU stay > 5 "
            + "days^LN||||||F|||202611210915",
        $"OBX|2|ST|57723-9^Unique bar code number of Current sample^LN|1|BS-{i:000000}||||||F",
        "OBR|2||2|73744-5^Newborn hearing screen panel of Ear - right^LN|||202611210915",
        "OBX|1|CWE|54109-4^Newborn hearing screen of Ear - "
            + "right^LN|1|LA10392-1^Pass^LN^164059009^Pass^SCT||||||F|||202611210915||S12||UNIT-4||25577004^Right ear structure^SCT",
        "OBX|2|CWE|54106-0^Newborn hearing screen method^LN|1|LA10387-1^Automated auditory brainstem response^LN||||||F",
        "OBR|3||3|73741-1^Newborn hearing screen panel of Ear - left^LN|||202611210915",
        "OBX|1|CWE|54108-6^Newborn hearing screen of Ear - "
            + "left^LN|1|LA10393-9^Refer^LN^183924009^Refer^SCT||||||F|||202611210915||S12||UNIT-4||89644007^Left ear structure^SCT",
        "OBX|2|CWE|54106-0^Newborn hearing screen method^LN|1|LA10387-1^Automated auditory brainstem response^LN||||||F");

    private static string Message(params string[] segments) => string.Concat(segments.Select(s => s + "\r"));
}
