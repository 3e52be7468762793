using System.IO.Compression;
using System.Net;
using System.Text;
using Registry.Intake.Formats;
using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Tests.Intake.Receiving;

namespace Registry.Tests.Intake.Formats;

/// <summary>Encodings and compression: every way the same rows may come leads to the same facts.</summary>
public sealed class FileFormatsTests(TestDatabase database)
{
    private const string Csv =
        "kind,record_number,birth_date,sex,mother_given_name,mother_family_name\nbirth,0071,2026-11-01,female,Zoë,Núñez Ångström\n";

    // The names in every encoding; bytes of the last by Windows' own table (WHATWG Encoding Standard, index windows-1252).
    public static readonly TheoryData<string, byte[], string, string> Encoded = new()
    {
        { "UTF-8", Encoding.UTF8.GetBytes(Csv), "text/csv", "utf8" },
        { "UTF-8 with mark", [0xEF, 0xBB, 0xBF, .. Encoding.UTF8.GetBytes(Csv)], "text/csv", "utf8" },
        { "UTF-8, stated", Encoding.UTF8.GetBytes(Csv), "text/csv; charset=\"UTF-8\"", "utf8" },
        { "UTF-16 with mark", [0xFF, 0xFE, .. Encoding.Unicode.GetBytes(Csv)], "text/csv", "utf16_le" },
        { "UTF-16, big end first, with mark", [0xFE, 0xFF, .. Encoding.BigEndianUnicode.GetBytes(Csv)], "text/csv", "utf16_be" },
        { "UTF-16 by its zero bytes", Encoding.Unicode.GetBytes(Csv), "text/csv", "utf16_le" },
        { "UTF-16, big end first, by its zero bytes", Encoding.BigEndianUnicode.GetBytes(Csv), "text/csv", "utf16_be" },
        { "UTF-16, stated", Encoding.BigEndianUnicode.GetBytes(Csv), "text/csv; charset=utf-16be", "utf16_be" },
        // A mark goes before what is stated (WHATWG Encoding Standard, "decode").
        { "UTF-8 with mark, stated as Windows-1252", [0xEF, 0xBB, 0xBF, .. Encoding.UTF8.GetBytes(Csv)], "text/csv; charset=windows-1252",
            "utf8" },
        { "UTF-16 with mark, stated as UTF-8", [0xFF, 0xFE, .. Encoding.Unicode.GetBytes(Csv)], "text/csv; charset=utf-8", "utf16_le" },
        { "Windows-1252", Windows(Csv), "text/csv", "windows1252" },
        { "Windows-1252, stated", Windows(Csv), "text/csv; charset=windows-1252", "windows1252" },
        { "Latin-1, read as Windows-1252", Encoding.Latin1.GetBytes(Csv), "text/csv; charset=iso-8859-1", "windows1252" },
    };

    [Theory]
    [MemberData(nameof(Encoded))]
    public async Task Names_are_read_as_they_are_written_whatever_the_encoding(string name, byte[] bytes, string type, string encoding)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        var (status, body, _) = await client.SendAsync(bytes, "", type);
        Assert.True(status == HttpStatusCode.OK, $"{name}: {body}");
        Assert.Equal(encoding, body["submission"]!["encoding"]!.ToString());
        Assert.Equal(["0071 Zoë Núñez Ångström"], await NamesAsync(bed));
        // Sent as before it changes nothing, and by page and worker it is read the same way.
        var receipt = await bed.Receive.ReceiveAsync(bed.Harbour, SubmissionFormat.Csv, null, new MemoryStream(bytes), default, bed.Now,
            ct: IntakeBed.Ct);
        await bed.Process.RunAsync(receipt.Id.Value, IntakeBed.Ct);
        if (type == "text/csv") Assert.Equal(["unchanged"], await bed.OutcomesAsync(receipt.Id));
    }

    [Theory]
    // one damaged byte
    [InlineData("text/csv", "birth,1,2026-11-01,female,Zo\u00ffë,B\n",
        "line 3 is not UTF-8, though other lines are: save the file as UTF-8")]
    [InlineData("text/csv; charset=utf-8", "birth,1,2026-11-01,female,\u00ff,B\n", "line 3 is not UTF-8")]
    [InlineData("text/csv", "birth,1,2026-11-01,female,\u0081,B\n", "line 3 is neither UTF-8 nor Windows-1252: save the file as UTF-8")]
    [InlineData("text/csv", "birth,1,2026-11-01,female,\0,B\n", "line 3 holds zero bytes: the file is not a text file")]
    [InlineData("application/x-ndjson", "{\"kind\":\"\u00ff\"}", "line 3 is not UTF-8")]
    public async Task What_is_in_no_encoding_is_refused_with_its_line(string type, string line, string reason)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        // ë is written in UTF-8, the others as the single byte.
        byte[] bytes = [.. type.Contains("json", StringComparison.Ordinal)
            ? "{\"kind\":\"x\"}\n{\"kind\":\"y\"}\n"u8 : Encoding.UTF8.GetBytes(
            Csv.Replace("Zoë", "Zoe").Replace("Núñez Ångström", "Nunez")),
            .. line.SelectMany(c => c == 'ë' ? Encoding.UTF8.GetBytes("ë") : [(byte)c])];
        var (status, body, _) = await client.SendAsync(bytes, "", type);
        Assert.Equal((HttpStatusCode.BadRequest, reason), (status, body.Reason()));
    }

    [Fact]
    public async Task Half_a_character_of_utf16_is_refused_and_utf16_is_no_json()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        var (_, body, _) = await client.SendAsync([0xFF, 0xFE, .. Encoding.Unicode.GetBytes(Csv), 0x41]);
        Assert.Contains("half a character is missing", body.Reason(), StringComparison.Ordinal);
        (_, body, _) = await client.SendAsync([0xFF, 0xFE, .. Encoding.Unicode.GetBytes("{\"rows\":[]}")], "", "application/json");
        Assert.Contains("JSON is sent in UTF-8", body.Reason(), StringComparison.Ordinal);
        Assert.Equal(HttpStatusCode.UnsupportedMediaType,
            (await client.SendAsync(Windows(Csv), "", "application/json; charset=iso-8859-1")).Status);
        Assert.Equal(HttpStatusCode.UnsupportedMediaType, (await client.SendAsync(Windows(Csv), "", "text/csv; charset=ebcdic-us")).Status);
    }

    [Fact]
    public async Task Encodings_are_recognised_however_the_bytes_are_cut()
    {
        foreach (var (bytes, expected) in new[] { (Encoding.UTF8.GetBytes(Csv), TextEncoding.Utf8),
            (Windows(Csv), TextEncoding.Windows1252) })
        {
            for (var piece = 1; piece < 12; piece++)
            {
                var detect = new DetectEncoding(null, utf8Only: false);
                for (var at = 0; at < bytes.Length; at += piece) detect.Feed(bytes.AsSpan(at, Math.Min(piece, bytes.Length - at)));
                Assert.Equal(expected, detect.End());
            }
        }

        await using var open = await new DetectEncoding(null, false).OpenAsync(new MemoryStream([0xEF, 0xBB, 0xBF]), IntakeBed.Ct);
        Assert.Equal(0, await open.ReadAsync(new byte[4], IntakeBed.Ct));
    }

    [Fact]
    public async Task A_packed_file_is_read_from_a_page_or_a_system_and_kept_as_sent()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.ClientAsync(bed.Harbour);
        var packed = Gzip(Windows(Csv));
        var (status, body, _) = await client.SendAsync(packed, coding: "gzip");
        Assert.True(status == HttpStatusCode.OK, body.ToString());
        Assert.Equal($"windows1252 {packed.Length}", $"{body["submission"]!["encoding"]} {body["submission"]!["bytes"]}");
        Assert.Equal(["0071 Zoë Núñez Ångström"], await NamesAsync(bed));
        Assert.Equal(packed.Length + FieldKeys.AddedBytes, await bed.CountAsync("generate_series(1, (select sum(length(bytes))::int from submission_chunks))"));

        // Larger than a piece, worked through in the background.
        var rows = "record_number,birth_date,sex\n" + string.Concat(Enumerable.Range(1, 60_000)
            .Select(i => $"{Guid.NewGuid()},2026-11-01,female\n"));
        (status, body, _) = await client.SendAsync(Gzip(Encoding.UTF8.GetBytes(rows)), "?kind=birth", coding: "gzip");
        Assert.Equal((HttpStatusCode.Accepted, "60000"), (status, body["submission"]!["rows"]!.ToString()));
        Assert.Equal(HttpStatusCode.OK,
            (await client.SendAsync(
            Gzip("{\"rows\":[{\"kind\":\"death\",\"record_number\":\"0071\",\"died_on\":\"2026-11-02\"}]}"u8.ToArray()), "",
            "application/json", "gzip")).Status);
        Assert.Equal(HttpStatusCode.UnsupportedMediaType, (await client.SendAsync(packed, coding: "br")).Status);
    }

    [Fact]
    public async Task A_packed_file_that_breaks_off_or_swells_is_refused()
    {
        await using var bed = await IntakeBed.StartAsync(database, new Dictionary<string, string?> { ["Intake:MaxBytes"] = "20000000" });
        using var client = await bed.ClientAsync(bed.Harbour);
        async Task<string> ReasonAsync(byte[] bytes) => (await client.SendAsync(bytes, "?kind=birth", coding: "gzip")).Body.Reason();
        var packed = Gzip(Encoding.UTF8.GetBytes("record_number,birth_date,sex\n" + string.Concat(
            Enumerable.Range(1, 9_000).Select(i => $"{i * 7919 % 100_000},2026-11-01,female\n"))));
        foreach (var cut in new[] { packed.Length - 1, packed.Length - 9, packed.Length / 2, 30 })
            Assert.Equal("the gzip stream breaks off, or is more than one: pack the whole file at once", await ReasonAsync(packed[..cut]));
        Assert.Equal("is not a sound gzip stream", await ReasonAsync("record_number,birth_date,sex\n1,2026-11-01,female\n"u8.ToArray()));
        var flipped = packed.ToArray();
        flipped[packed.Length / 2] ^= 0xFF;
        Assert.Contains("gzip stream", await ReasonAsync(flipped), StringComparison.Ordinal);
        Assert.Contains("breaks off, or is more than one", await ReasonAsync([.. packed, .. packed]), StringComparison.Ordinal);

        // RFC 1951 packs at most 1,032 to 1: zeros come near it, a table of text never does.
        Assert.Equal("unpacks to more than 200 times its size", await ReasonAsync(Gzip(new byte[10_000_000])));
        Assert.Equal("unpacks to more than 20000000 bytes", await ReasonAsync(
            Gzip(System.Security.Cryptography.RandomNumberGenerator.GetBytes(2_000_000).SelectMany(b => Enumerable.Repeat(b, 12))
            .ToArray())));
        Assert.Equal(0, await bed.CountAsync("infants"));
    }

    private static Task<List<string>> NamesAsync(IntakeBed bed) => bed.ListAsync(
        "select concat_ws(' ', i.value, b.mother_given_name, b.mother_family_name) from births b join infant_identifiers i using "
            + "(infant_id)");

    private static byte[] Windows(string text) => CodePagesEncodingProvider.Instance.GetEncoding(1252)!.GetBytes(text);

    private static byte[] Gzip(byte[] bytes)
    {
        using var packed = new MemoryStream();
        using (var gzip = new GZipStream(packed, CompressionLevel.Optimal, leaveOpen: true)) gzip.Write(bytes);
        return packed.ToArray();
    }
}
