using System.Text;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Rows;
using Registry.Tests.Architecture;
using Registry.Tests.Intake;

namespace Registry.Tests.Fhir;

/// <summary>Mutated Bundles: no exception while they are read and checked, the same number of rows at both readings, no answer of
/// 5xx.</summary>
[Collection(nameof(R4))]
public sealed partial class FuzzTests(TestDatabase database)
{
    private const int Cases = 20_000;

    private static readonly string[] Telling =
    [
        "{", "}", "[", "]", ",", ":", "\"", "null", "true", "0", "-1", "1e400", "\"\"", "\\", "\\ud800", "\u0000", "é", "{}", "[]",
        "[null]", "\"urn:uuid:\"",
        "\"Patient/0192f0c1-0000-7000-8000-000000000000\"", "\"9999-12-31T23:59:59+14:00\"", "\"0001-01-01T00:00:00-14:00\"", "\"2026\"",
        "\"Bundle\"", "\"transaction\"",
    ];

    [Fact]
    public async Task Any_text_is_read_without_an_exception()
    {
        var (seeds, random) = (Seeds(), new Random(20_261_125));
        var check = new CheckRow(RegistryApp.DefaultToday, new Dictionary<string, Guid>());
        var (readable, rows) = (0, 0);
        for (var i = 0; i < Cases; i++)
        {
            var bytes = Mutate(seeds[i % seeds.Length], random);
            var inspect = new InspectFhir();
            inspect.Feed(bytes);
            inspect.End();
            if (inspect.Problems.Count > 0) continue;
            readable++;
            var parsed = ParseBundle.Read(bytes);
            var named = TranslateBundle.InfantsNamedIn(parsed);
            using var reader = new ReadFhirRows(TranslateBundle.Run(parsed, TimeZoneInfo.Utc, new Dictionary<Guid, KnownPatient>()));
            var batch = new RowBatch(inspect.RowCount + 1);
            await reader.FillAsync(batch, IntakeBed.Ct);
            Assert.Equal(inspect.RowCount, batch.Count);
            Assert.True(named.Count <= parsed.EntryCount);
            for (var row = 0; row < batch.Count; row++)
            {
                if (check.Check(batch, row, out _, out var problems) is null) Assert.NotEmpty(problems);
                batch.ToJson(row);
                rows++;
            }
        }

        // Not all of them break: the rows are reached too.
        Assert.True(readable > Cases / 20 && rows > Cases / 10, $"{readable} readable, {rows} rows");
    }

    [Fact]
    public async Task No_text_is_answered_with_a_fault_of_ours()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var (seeds, random) = (Seeds(), new Random(7));
        for (var i = 0; i < 300; i++)
        {
            using var content = new ByteArrayContent(Mutate(seeds[i % seeds.Length], random));
            content.Headers.ContentType = new("application/fhir+json");
            using var answer = await client.PostAsync(i % 3 == 0 ? "/fhir/Patient" : "/fhir", content, IntakeBed.Ct);
            Assert.True((int)answer.StatusCode < 500, await content.ReadAsStringAsync(IntakeBed.Ct));
            await FhirBed.ReadAsync(answer);
        }
    }

    private static byte[][] Seeds()
    {
        var text = System.IO.File.ReadAllText(Path.Combine(SourceTree.Root, "docs/intake/fhir.md"));
        var example = text[(text.IndexOf("```json\n", StringComparison.Ordinal) + 8)..];
        example = example[..example.IndexOf("```", StringComparison.Ordinal)];
        var small = FhirBed.Json(FhirBed.Bundle(Hl7.Fhir.Model.Bundle.BundleType.Transaction,
            (FhirBed.Urn(1), FhirBed.Patient("1", card: "C")), (null, FhirBed.Result(FhirBed.Urn(1))),
            (null, FhirBed.Result("Patient/0192f0c1-0000-7000-8000-000000000000"))));
        return [Encoding.UTF8.GetBytes(example), Encoding.UTF8.GetBytes(small),
            Encoding.UTF8.GetBytes(small.Replace("transaction", "batch", StringComparison.Ordinal))];
    }

    /// <summary>One to four cuts, doublings, replacements of a JSON value or of some bytes.</summary>
    private static byte[] Mutate(byte[] seed, Random random)
    {
        var bytes = seed;
        for (var n = random.Next(1, 5); n > 0; n--)
        {
            var from = random.Next(bytes.Length);
            var length = Math.Min(random.Next(1, 60), bytes.Length - from);
            bytes = random.Next(5) switch
            {
                0 => [.. bytes[..from], .. bytes[(from + length)..]],
                1 => [.. bytes[..(from + length)], .. bytes[from..]],
                2 => [.. bytes[..from], (byte)random.Next(256), .. bytes[(from + 1)..]],
                _ => Swap(bytes, random),
            };
            if (bytes.Length == 0) return bytes;
        }

        return bytes;
    }

    /// <summary>Another value in the place of one: the text mostly stays well-formed.</summary>
    private static byte[] Swap(byte[] bytes, Random random)
    {
        var text = Encoding.UTF8.GetString(bytes);
        var values = Value().Matches(text);
        if (values.Count == 0) return bytes;
        var at = values[random.Next(values.Count)].Groups[1];
        var other = random.Next(2) == 0 ? Telling[random.Next(Telling.Length)] : values[random.Next(values.Count)].Groups[1].Value;
        return Encoding.UTF8.GetBytes(text[..at.Index] + other + text[(at.Index + at.Length)..]);
    }

    [System.Text.RegularExpressions.GeneratedRegex(@":\s*(""[^""]*""|-?\d+|true|false|null|\{\}|\[\])")]
    private static partial System.Text.RegularExpressions.Regex Value();
}
