using System.Text;
using Registry.Intake.Formats;
using Registry.Records;

namespace Registry.Tests.Intake.Formats;

public sealed class InspectJsonTests
{
    private static string Inspect(string text, SubmissionFormat format = SubmissionFormat.Json, int piece = int.MaxValue)
    {
        var inspect = new InspectJson(format);
        ReadOnlySpan<byte> bytes = Encoding.UTF8.GetBytes(text);
        for (; !bytes.IsEmpty; bytes = bytes[Math.Min(piece, bytes.Length)..]) inspect.Feed(bytes[..Math.Min(piece, bytes.Length)]);
        inspect.End();
        return inspect.Problems.Count == 0 ? $"{inspect.RowCount} rows" : string.Join(
            '\n', inspect.Problems.Select(p => $"{p.Row} {p.Field}: {p.Reason}"));
    }

    [Theory]
    [InlineData("""{"rows":[{"kind":"birth","sex":null,"plurality":2,"email_consent":true},{}]}""", SubmissionFormat.Json)]
    [InlineData("{\"kind\":\"birth\"}\n{\"sex\":\"\\u00e9\"}\n", SubmissionFormat.Ndjson)]
    [InlineData("{\"kind\":\"birth\"}{\"nobody\":1.5e3}", SubmissionFormat.Ndjson)]
    public void Sound_texts_are_counted_however_they_are_cut(string text, SubmissionFormat format)
    {
        for (var piece = 1; piece <= text.Length; piece++) Assert.Equal("2 rows", Inspect(text, format, piece));
    }

    [Theory]
    [InlineData("", "0 : the text ends before the JSON does")]
    [InlineData("{}", "0 rows: there are no rows")]
    [InlineData("""{"rows":[]}""", "0 rows: there are no rows")]
    [InlineData("""[{"kind":"birth"}]""", "0 : must be a JSON object")]
    [InlineData("""{"rows":{}}""", "0 rows: must be an array")]
    [InlineData("""{"data":[]}""", "0 : the object may hold only \"rows\"")]
    [InlineData("""{"rows":[{"kind":"birth"},7]}""", "2 : must be a JSON object")]
    [InlineData("""{"rows":[{"kind":"birth"},{"sex":["female"]}]}""", "2 sex: must be a text, a number, true, false or null")]
    [InlineData("""{"rows":[{"kind":"birth"},{"sex":}]}""", "2 : not well-formed JSON at line 1, byte 34")]
    [InlineData("{\"rows\":[\n{\"kind\":\"birth\"}\n{}]}", "1 : not well-formed JSON at line 3, byte 1")]
    [InlineData("""{"rows":[{"kind":"birth"},{"sex":"fem""", "2 : the text ends before the JSON does")]
    [InlineData("""{"rows":[{"kind":"birth"}]""", "1 : the text ends before the JSON does")]
    [InlineData("""{"rows":[{"kind":"birth"}]} x""", "1 : not well-formed JSON at line 1, byte 29")]
    public void What_is_malformed_is_named_with_its_row(string text, string problem)
    {
        Assert.Equal(problem, Inspect(text));
        Assert.Equal(problem, Inspect(text, piece: 1));
    }

    [Fact]
    public void A_value_without_end_is_refused_before_it_fills_the_memory() =>
        Assert.Equal("1 : a value is longer than 65536 bytes", Inspect("""{"rows":[{"kind":" """ + new string('x', 300_000)));
}
