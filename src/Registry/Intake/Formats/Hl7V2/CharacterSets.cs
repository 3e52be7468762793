using System.Text;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>The character sets of HL7 table 0211 that we read.</summary>
internal static class CharacterSets
{
    private static readonly Dictionary<string, Encoding> Known = Make();
    private static readonly Dictionary<string, Encoding>.AlternateLookup<ReadOnlySpan<char>> ByName =
        Known.GetAlternateLookup<ReadOnlySpan<char>>();

    /// <summary>Null for one we do not read.</summary>
    public static Encoding? Find(ReadOnlySpan<byte> name)
    {
        Span<char> text = stackalloc char[24];
        if (name.IsEmpty) return Encoding.UTF8;
        if (name.Length > text.Length) return null;
        var length = Encoding.Latin1.GetChars(name, text);
        return ByName.TryGetValue(text[..length], out var encoding) ? encoding : null;
    }

    private static Dictionary<string, Encoding> Make()
    {
        var known = new Dictionary<string, Encoding>(StringComparer.OrdinalIgnoreCase)
        {
            ["UNICODE UTF-8"] = Encoding.UTF8,
            ["UTF-8"] = Encoding.UTF8, // not of the table, but often sent
            ["\"\""] = Encoding.UTF8,
            ["ASCII"] = Encoding.ASCII,
            ["8859/1"] = Encoding.Latin1,
        };
        foreach (var part in new[] { 2, 3, 4, 5, 6, 7, 8, 9, 15 })
            known[$"8859/{part}"] = CodePagesEncodingProvider.Instance.GetEncoding(
                28590 + part, EncoderFallback.ReplacementFallback, new DecoderReplacementFallback("\uFFFD"))!;
        return known;
    }
}
