using System.Text;
using System.Text.Encodings.Web;
using System.Text.Json;
using CsCheck;
using Hl7.Fhir.Model;
using Registry.Intake.Formats;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Formats.Hl7V2;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Tests.Fhir;
using Registry.Tests.Intake.Formats.Hl7V2;

namespace Registry.Tests.Fuzzing;

/// <summary>Whatever a text says, each format carries it to its row as it was written: properties over generated texts. CSV has its own,
/// beside its inspection.</summary>
public sealed class RoundTripTests
{
    private static readonly Gen<string> Text = Gen.String[Gen.OneOf("aZ09 ,;\"'\\/|^~&!$%?*<>{}[]éü李ß\u00a0".Select(c => Gen.Const(c))
        .ToArray()), 1, 24].Select(s => s.Trim()).Where(s => s.Length > 0);

    [Theory]
    [InlineData(SubmissionFormat.Json, false)]
    [InlineData(SubmissionFormat.Json, true)]
    [InlineData(SubmissionFormat.Ndjson, false)]
    public void Json(SubmissionFormat format, bool escaped) => Gen.Select(Text.Array[2].Array[1, 30], Gen.Int[1, 300])
        .Sample((rows, piece) =>
    {
        var options = new JsonSerializerOptions
        {
            Encoder = escaped ? JavaScriptEncoder.Default
            : JavaScriptEncoder.UnsafeRelaxedJsonEscaping,
            WriteIndented = escaped
        };
        var objects = rows.Select(r => new Dictionary<string, string> { ["record_number"] = r[0], ["mother_family_name"] = r[1] })
            .ToArray();
        var text = format == SubmissionFormat.Json
            ? JsonSerializer.Serialize(new { rows = objects }, options) : string.Join(
                '\n', objects.Select(o => JsonSerializer.Serialize(o, options)));
        var bytes = Encoding.UTF8.GetBytes(text);
        var inspect = new InspectJson(format);
        foreach (var part in bytes.Chunk(piece)) inspect.Feed(part);
        inspect.End();
        Assert.Empty(inspect.Problems);
        Assert.Equal(rows.Length, inspect.RowCount);
        Assert.Equal(rows.Select(r => $"{r[0]}/{r[1]}"), Read(new ReadJsonRows(new MemoryStream(bytes), format, null), b =>
            $"{b.Text(0, Field.RecordNumber)}/{b.Text(0, Field.MotherFamilyName)}"));
    }, iter: 500);

    /// <summary>Escapes by HL7 v2.x, chapter 2.7; the delimiters are the message's own.</summary>
    [Theory]
    [InlineData("|^~\\&")]
    [InlineData("!$%?*")]
    public void Hl7V2(string delimiters) => Text.Where(t => t != "\"\"").Sample(name =>
    {
        const string usual = "|^~\\&";
        var message = new StringBuilder(Messages.Admission().Replace("Marlow^Girl", "\u0001^Girl", StringComparison.Ordinal));
        for (var i = 0; i < usual.Length; i++) message.Replace(usual[i], delimiters[i]);
        const string codes = "FSRET"; // field, component, repetition, escape, subcomponent
        var said = string.Concat(
            name.Select(c => delimiters.IndexOf(c) is >= 0 and var at ? $"{delimiters[3]}{codes[at]}{delimiters[3]}" : c.ToString()));
        var bytes = Encoding.UTF8.GetBytes(message.Replace("\u0001", said).ToString());
        Assert.Equal([name], Read(new ReadHl7V2Rows(new MemoryStream(bytes), TimeZoneInfo.Utc), b =>
            b.Text(0, Field.InfantFamilyName).ToString()));
    }, iter: 1_000);

    [Fact]
    public void Fhir() => Text.Sample(name =>
    {
        var patient = FhirBed.Patient("1");
        patient.Name = [new() { Family = name }];
        var bytes = Encoding.UTF8.GetBytes(FhirBed.Json(FhirBed.Bundle(Bundle.BundleType.Batch, (FhirBed.Urn(1), patient))));
        using var rows = new ReadFhirRows(
            TranslateBundle.Run(ParseBundle.Read(bytes), TimeZoneInfo.Utc, new Dictionary<Guid, KnownPatient>()));
        Assert.Equal([name], Read(rows, b => b.Text(0, Field.InfantFamilyName).ToString()));
    }, iter: 500);

    private static List<string> Read(RowReader reader, Func<RowBatch, string> say)
    {
        var (said, batch) = (new List<string>(), new RowBatch(1));
        while (reader.FillAsync(batch, default).AsTask().GetAwaiter().GetResult())
        {
            Assert.Empty(batch.Problems(0));
            said.Add(say(batch));
        }

        return said;
    }
}
