using System.Buffers;
using System.Text;
using Registry.Intake.Formats.Hl7V2;
using Registry.Intake.Mllp;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;

namespace Registry.Tests.Intake.Formats.Hl7V2;

/// <summary>Mutated messages: no exception, the same number of rows at both readings, and an answer that reads as a message
/// itself.</summary>
public sealed class FuzzTests
{
    private const int Cases = 20_000;

    private static ReadOnlySpan<byte> Telling => "|^~\\&\r\n\v\u001c\"MSH0-+."u8;

    [Fact]
    public async Task Any_bytes_are_read_without_an_exception()
    {
        var random = new Random(20_261_125);
        byte[][] seeds =
        [
            Encoding.UTF8.GetBytes(Messages.Admission(multiple: "Y", order: "2", discharged: "20261123", death: "20261124|Y")),
            Encoding.UTF8.GetBytes(
                Messages.Results(left: "LA12408-3^x^LN~\\X4A\\", status: "C",
                extra: "OBX|1|CWE|58232-0^^LN|1|LA6172-6^^LN~LA137-2^^LN||||||F")),
            Encoding.UTF8.GetBytes(Messages.Merge("1", "2")),
            Encoding.UTF8.GetBytes("FHS|^~\\&\rBHS|^~\\&\r" + Messages.Admission() + Messages.Results() + "BTS|2\rFTS|1\r"),
        ];
        var batch = new RowBatch(5);
        for (var i = 0; i < Cases; i++)
        {
            var bytes = Mutate(seeds[i % seeds.Length], random);
            var inspect = new InspectHl7V2();
            inspect.Feed(bytes);
            inspect.End();
            var rows = 0;
            using var reader = new ReadHl7V2Rows(new MemoryStream(bytes), TimeZoneInfo.Utc);
            while (await reader.FillAsync(batch, TestContext.Current.CancellationToken))
            {
                rows += batch.Count;
                for (var row = 0; row < batch.Count; row++) batch.ToJson(row);
            }

            if (inspect.Problems.Count == 0) Assert.Equal(inspect.RowCount, rows);
            Answer(bytes);
            Frames(bytes);
        }
    }

    private static void Answer(byte[] bytes)
    {
        var map = new MapMessage(TimeZoneInfo.Utc);
        map.Read(bytes);
        var reply = new ArrayBufferWriter<byte>();
        var rows = Enumerable.Range(0, map.Rows.Count)
            .Select(i => new RowReport(i + 1, 1, "birth", "held", "no_such_infant", [new("birth_date", "is required"), new(null, "x|y^z")]))
            .ToList();
        new WriteAcknowledgement(reply, TimeZoneInfo.Utc).Of(map, rows, DateTimeOffset.UnixEpoch);
        // Whatever came in, the answer is a message of ours.
        Assert.Null(new Hl7V2Message().Read(reply.WrittenSpan));
    }

    private static void Frames(byte[] bytes)
    {
        var buffer = new ReadOnlySequence<byte>(bytes);
        while (MllpFrames.TryRead(ref buffer, 500, out _) == FrameState.Frame)
        {
        }
    }

    private static byte[] Mutate(byte[] seed, Random random)
    {
        var bytes = seed.ToList();
        for (var n = random.Next(1, 8); n > 0 && bytes.Count > 4; n--)
        {
            var at = random.Next(bytes.Count);
            switch (random.Next(6))
            {
                case 0: bytes[at] = (byte)random.Next(256); break;
                case 1: bytes.RemoveRange(at, Math.Min(random.Next(40), bytes.Count - at)); break;
                case 2: bytes.Insert(at, Telling[random.Next(Telling.Length)]); break;
                case 3: bytes.InsertRange(at, bytes.GetRange(at, Math.Min(random.Next(60), bytes.Count - at)).ToArray()); break;
                case 4: (bytes[at], bytes[random.Next(bytes.Count)]) = (bytes[random.Next(bytes.Count)], bytes[at]); break;
                default: bytes.InsertRange(at, Enumerable.Repeat((byte)'9', random.Next(30))); break;
            }
        }

        return [.. bytes];
    }
}
