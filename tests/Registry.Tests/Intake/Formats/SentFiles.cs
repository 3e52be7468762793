using System.IO.Compression;
using System.Text;
using System.Text.Json;
using Registry.Intake.Receiving;
using Registry.Tests.Intake.Formats.Hl7V2;

namespace Registry.Tests.Intake.Formats;

/// <summary>A CSV file's rows in other formats; HL7 v2 and fixed width say something of the same kind.</summary>
internal static class SentFiles
{
    public static async Task<(byte[] Bytes, string Type, string? Coding)> OfAsync(string ending, string csv)
    {
        var lines = csv.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(l => l.Trim().Split(',')).ToList();
        var rows = lines.Skip(1).Select(l => lines[0].Zip(l).ToDictionary(c => c.First, c => c.Second.Length > 0 ? c.Second : null))
            .ToList();
        switch (ending)
        {
            case "csv": return (Encoding.UTF8.GetBytes(csv), "text/csv", null);
            case "json": return (JsonSerializer.SerializeToUtf8Bytes(new { rows }), "application/json", null);
            case "ndjson":
                return (Encoding.UTF8.GetBytes(string.Join('\n', rows.Select(r => JsonSerializer.Serialize(r)))),
                "application/x-ndjson", null);
            case "xlsx":
                using (var book = new MemoryStream())
                {
                    await MiniExcelLibs.MiniExcel.SaveAsAsync(book, rows.Select(r => r.ToDictionary(c => c.Key, c => (object?)c.Value)),
                        cancellationToken: IntakeBed.Ct);
                    return (book.ToArray(), ContentTypes.Xlsx, null);
                }

            case "hl7":
                return (Encoding.UTF8.GetBytes(Messages.Admission() + Messages.Results(site: "89644007^^SCT") + Messages.Results(
                "4799", control: "R-2")), "application/hl7-v2", null);
            case "fwf":
                string Line(char kind, string number, string born) => kind + number.PadRight(20) + new string(' ', 30) + born.PadRight(10)
                    + new string(' ', 5) + "F1" + new string(' ', 128) + "Marlow";
                return (Encoding.UTF8.GetBytes($"HVITAL01\n{Line('B', "2026-1", "2026-11-01")}\n{Line('B', "2026-2", "2026-11-31")}\nT000000002\n"), "text/plain", null);
            default:
                var (bytes, type, _) = await OfAsync(ending[..^3], csv);
                using (var packed = new MemoryStream())
                {
                    using (var gzip = new GZipStream(packed, CompressionLevel.Optimal, leaveOpen: true)) gzip.Write(bytes);
                    return (packed.ToArray(), type, "gzip");
                }
        }
    }
}
