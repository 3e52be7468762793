using System.Collections.Frozen;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Hl7V2;

/// <summary>What a coded value (CE, CWE, CNE) says: a code of ours by the first or the alternate triplet, by code and system.</summary>
internal static class CodedValue
{
    private static readonly FrozenDictionary<string, StandardCode>.AlternateLookup<ReadOnlySpan<char>>[] Tables = Make();

    public enum Reading { Known, Unknown, TwoMeanings }

    /// <summary>Reads one repetition of a coded field.</summary>
    /// <param name="message">The message it is in.</param>
    /// <param name="value">The repetition.</param>
    /// <param name="set">What the code is an answer to.</param>
    /// <param name="code">The code, when known.</param>
    /// <param name="otherName">The name beside the code is not the code's.</param>
    public static Reading Read(Hl7V2Message message, ReadOnlySpan<char> value, CodeSet set, out StandardCode? code, out bool otherName)
    {
        code = Triplet(message, value, 1, set, out otherName);
        var alternate = Triplet(message, value, 4, set, out var otherAlternate);
        if (alternate is null) return code is null ? Reading.Unknown : Reading.Known;
        if (code is null)
        {
            (code, otherName) = (alternate, otherAlternate);
            return Reading.Known;
        }

        otherName |= otherAlternate;
        return code.Means == alternate.Means && code.Ear == alternate.Ear && code.Reason == alternate.Reason
            ? Reading.Known : Reading.TwoMeanings;
    }

    /// <summary>
    /// A risk indicator by this registry's own code, in the local system (HL7 table 0396: L), in the first or the alternate triplet;
    /// null when
    /// it carries none. LOINC's list of answers says only "in utero infection" for several: the own code says which, and goes before it.
    /// </summary>
    public static string? OwnRisk(Hl7V2Message message, ReadOnlySpan<char> value)
    {
        var component = message.Delimiters.Component;
        foreach (var first in (ReadOnlySpan<int>)[1, 4])
        {
            if (Hl7V2Message.Part(value, component, first + 2) is "L"
                && Codes.TryParse<RiskIndicatorKind>(Hl7V2Message.Part(value, component, first), out var kind)) return Codes.Of(kind);
        }

        return null;
    }

    private static StandardCode? Triplet(Hl7V2Message message, ReadOnlySpan<char> value, int first, CodeSet set, out bool otherName)
    {
        otherName = false;
        var d = message.Delimiters;
        for (; first > 1; first--)
        {
            var cut = value.IndexOf(d.Component);
            if (cut < 0) return null;
            value = value[(cut + 1)..];
        }

        var text = Hl7V2Message.Part(value, d.Component, 1);
        var system = Hl7V2Message.Part(value, d.Component, 3) switch
        {
            "LN" => CodingSystem.Loinc,
            "SCT" => CodingSystem.Snomed,
            _ => (CodingSystem?)null,
        };
        if (system is not { } s || !Tables[Index(set, s)].TryGetValue(text.Trim(), out var code)) return null;
        var name = Hl7V2Message.Part(value, d.Component, 2);
        otherName = code.Source == 'F' && !name.IsEmpty && !name.SequenceEqual(code.Display)
            && !name.Contains(code.Display, StringComparison.OrdinalIgnoreCase)
                && !code.Display.AsSpan().Contains(name, StringComparison.OrdinalIgnoreCase);
        return code;
    }

    private static int Index(CodeSet set, CodingSystem system) => ((int)set * 2) + (int)system;

    private static FrozenDictionary<string, StandardCode>.AlternateLookup<ReadOnlySpan<char>>[] Make()
    {
        var tables = new FrozenDictionary<string, StandardCode>.AlternateLookup<ReadOnlySpan<char>>[Enum.GetValues<CodeSet>().Length * 2];
        foreach (var set in Enum.GetValues<CodeSet>())
        {
            foreach (var system in Enum.GetValues<CodingSystem>())
            {
                tables[Index(set, system)] = StandardCodes.All.Where(c => c.Set == set && c.System == system)
                    .ToFrozenDictionary(c => c.Code, StringComparer.Ordinal).GetAlternateLookup<ReadOnlySpan<char>>();
            }
        }

        return tables;
    }
}
