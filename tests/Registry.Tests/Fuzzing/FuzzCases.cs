using System.IO.Compression;
using System.Text;
using System.Text.RegularExpressions;
using Registry.Intake.Formats;
using Registry.Intake.Receiving;
using Registry.Records;
using Registry.Tests.Intake.Formats.Workbooks;

namespace Registry.Tests.Fuzzing;

/// <summary>A mutated file or message: how it is sent, and its bytes.</summary>
internal sealed record FuzzCase(int Number, SubmissionFormat Format, byte[] Bytes)
{
    public bool Gzip { get; init; }

    /// <summary>The mapping its header finds.</summary>
    public ColumnMapping? Mapping { get; init; }

    /// <summary>As it is sent over HTTP.</summary>
    public string MediaType => Format switch
    {
        SubmissionFormat.Csv => "text/csv",
        SubmissionFormat.FixedWidth => "text/plain",
        SubmissionFormat.Json => "application/json",
        SubmissionFormat.Ndjson => "application/x-ndjson",
        SubmissionFormat.Hl7V2 => "application/hl7-v2",
        SubmissionFormat.Fhir => "application/fhir+json",
        _ => ContentTypes.Xlsx,
    };
}

/// <summary>
/// The worked examples of docs/intake, in every format, encoding and packing, with a few small changes each: bytes lost, doubled, moved or
/// changed, one JSON value in the place of another, XML of a workbook's parts changed before they are packed. A case follows from its
/// number alone.
/// </summary>
internal sealed partial class FuzzCases
{
    private sealed record Seed(SubmissionFormat Format, byte[] Bytes, ColumnMapping? Mapping = null);

    private readonly List<Seed> _seeds = [];
    private readonly List<(string Name, byte[] Bytes)> _workbook = [];

    /// <param name="documents">The folder whose pages hold the examples: docs/intake.</param>
    public FuzzCases(string documents)
    {
        foreach (var page in Directory.GetFiles(documents, "*.md").Order(StringComparer.Ordinal))
        {
            var text = File.ReadAllText(page);
            var mapping = MappingBlock().Match(text) is { Success: true } m ? ColumnMapping.FromJson(m.Groups[1].Value) : null;
            foreach (Match block in Block().Matches(text)) Add(block.Groups[1].Value, block.Groups[2].Value, mapping);
        }

        using var zip = new ZipArchive(new MemoryStream(Workbook()));
        foreach (var entry in zip.Entries)
        {
            using var part = new MemoryStream();
            using (var from = entry.Open()) from.CopyTo(part);
            _workbook.Add((entry.FullName, part.ToArray()));
        }
    }

    public FuzzCase Case(int number)
    {
        var random = new Random(number);
        if (random.Next(20) == 0) return new(number, SubmissionFormat.Xlsx, MutatedWorkbook(random));
        var seed = _seeds[number % _seeds.Count];
        var isJson = seed.Format is SubmissionFormat.Json or SubmissionFormat.Ndjson or SubmissionFormat.Fhir;
        var bytes = isJson && random.Next(2) == 0 ? Swap(seed.Bytes, random) : Mutate(seed.Bytes, random);
        var gzip = seed.Format is not SubmissionFormat.Hl7V2 and not SubmissionFormat.Fhir && random.Next(16) == 0;
        if (gzip) bytes = random.Next(3) == 0 ? Mutate(Packed(seed.Bytes), random) : Packed(bytes);
        return new(number, seed.Format, bytes) { Gzip = gzip, Mapping = seed.Mapping };
    }

    private void Add(string language, string text, ColumnMapping? mapping)
    {
        var bytes = Encoding.UTF8.GetBytes(text);
        switch (language)
        {
            case "csv":
                _seeds.Add(new(SubmissionFormat.Csv, bytes, mapping));
                _seeds.Add(new(SubmissionFormat.Csv, [0xFF, 0xFE, .. Encoding.Unicode.GetBytes(text)], mapping));
                _seeds.Add(new(SubmissionFormat.Csv, Encoding.Latin1.GetBytes(text.Replace('a', 'ä')), mapping));
                break;
            case "fwf":
                _seeds.Add(new(SubmissionFormat.FixedWidth, bytes));
                break;
            case "hl7":
                _seeds.Add(new(SubmissionFormat.Hl7V2, Encoding.UTF8.GetBytes(text.Replace('\n', '\r'))));
                break;
            case "json" when text.Contains("\"rows\"", StringComparison.Ordinal):
                _seeds.Add(new(SubmissionFormat.Json, bytes));
                _seeds.Add(new(SubmissionFormat.Ndjson, Encoding.UTF8.GetBytes(
                    string.Join('\n', JsonObject().Matches(text).Select(m => Blanks().Replace(m.Value, " "))))));
                break;
            case "json" when text.Contains("\"resourceType\"", StringComparison.Ordinal):
                _seeds.Add(new(SubmissionFormat.Fhir, bytes));
                _seeds.Add(new(SubmissionFormat.Fhir, Encoding.UTF8.GetBytes(
                    text.Replace("\"transaction\"", "\"batch\"", StringComparison.Ordinal))));
                break;
        }
    }

    private static byte[] Workbook() => TestWorkbook.Of(
        """
        <row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="s"><v>1</v></c><c r="C1" t="s"><v>2</v></c><c r="D1" t="inlineStr"><is><t>sex</t></is></c></row>
        <row r="2"><c r="A2" t="s"><v>3</v></c><c r="B2"><v>1701</v></c><c r="C2" s="1"><v>46328</v></c><c r="D2" t="str"><f>"fe"&amp;"male"</f><v>female</v></c></row>
        <row r="4"><c r="A4" t="s"><v>3</v></c><c r="B4" t="e"><v>#N/A</v></c><c r="C4" s="1"><v>46328.5</v></c><c r="D4" t="b"><v>1</v></c></row>
        """, ["kind", "record_number", "birth_date", "birth"], ["yyyy\\-mm\\-dd"]);

    private byte[] MutatedWorkbook(Random random)
    {
        using var bytes = new MemoryStream();
        using (var zip = new ZipArchive(bytes, ZipArchiveMode.Create, leaveOpen: true))
        {
            var changed = random.Next(_workbook.Count);
            for (var i = 0; i < _workbook.Count; i++)
            {
                using var part = zip.CreateEntry(_workbook[i].Name, CompressionLevel.NoCompression).Open();
                part.Write(i == changed ? Mutate(_workbook[i].Bytes, random) : _workbook[i].Bytes);
            }
        }

        return random.Next(4) == 0 ? Mutate(bytes.ToArray(), random) : bytes.ToArray();
    }

    private static byte[] Packed(byte[] bytes)
    {
        using var packed = new MemoryStream();
        using (var gzip = new GZipStream(packed, CompressionLevel.Fastest)) gzip.Write(bytes);
        return packed.ToArray();
    }

    private static readonly byte[] Telling = [.. "\",;:|^~\\&{}[]<>\r\n\t\v\0\u001c-+.09eETZ/=#"u8, 0xFF, 0xFE, 0xEF, 0xBB, 0xBF, 0xC3,
        0x80];

    private static readonly string[] TellingJson =
    [
        "{", "}", "[", "]", ",", ":", "\"", "null", "true", "0", "-1", "1e400", "\"\"", "\\", "\"\\ud800\"", "\"\\u0000\"", "é", "{}", "[]",
        "[null]", "\"urn:uuid:\"",
        "\"Patient/0192f0c1-0000-7000-8000-000000000000\"", "\"9999-12-31T23:59:59+14:00\"", "\"0001-01-01T00:00:00-14:00\"", "\"2026\"",
        "\"Bundle\"", "\"transaction\"",
    ];

    /// <summary>One small change anywhere, or a few.</summary>
    private static byte[] Mutate(byte[] seed, Random random)
    {
        var bytes = seed.ToList();
        for (var n = random.Next(2) == 0 ? 1 : random.Next(2, 9); n > 0 && bytes.Count > 4; n--)
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

    /// <summary>One to four JSON values in the place of others: the text mostly stays well-formed, and its meaning breaks.</summary>
    private static byte[] Swap(byte[] bytes, Random random)
    {
        var text = Encoding.UTF8.GetString(bytes);
        for (var n = random.Next(1, 5); n > 0; n--)
        {
            var values = JsonValue().Matches(text);
            if (values.Count == 0) break;
            var at = values[random.Next(values.Count)].Groups[1];
            var other = random.Next(2) == 0 ? TellingJson[random.Next(TellingJson.Length)]
                : values[random.Next(values.Count)].Groups[1].Value;
            text = text[..at.Index] + other + text[(at.Index + at.Length)..];
        }

        return Encoding.UTF8.GetBytes(text);
    }

    [GeneratedRegex("^```(csv|json|hl7|fwf)\n(.*?)^```", RegexOptions.Multiline | RegexOptions.Singleline)]
    private static partial Regex Block();

    [GeneratedRegex("^```mapping\n(.*?)^```", RegexOptions.Multiline | RegexOptions.Singleline)]
    private static partial Regex MappingBlock();

    [GeneratedRegex(@"\{[^{}]*\}")]
    private static partial Regex JsonObject();

    [GeneratedRegex(@"\s+")]
    private static partial Regex Blanks();

    [GeneratedRegex(@":\s*(""[^""]*""|-?\d+|true|false|null|\{\}|\[\])")]
    private static partial Regex JsonValue();
}
