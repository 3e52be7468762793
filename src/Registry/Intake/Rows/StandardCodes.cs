using System.Collections.Frozen;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>What a code is an answer to.</summary>
public enum CodeSet { Observation, Outcome, Method, BodySite, Plurality, Risk }

public enum CodingSystem { Loinc, Snomed }

/// <summary>One code of a published terminology and what it means here.</summary>
/// <param name="Means">Our code (an outcome, a method, a risk indicator, a subject of observation); null: nothing is recorded for
/// it.</param>
/// <param name="Ear">The ear the code itself names.</param>
/// <param name="Reason">Why there is no result, where the code says so.</param>
/// <param name="Source"><c>F</c> found in a published source, <c>M</c> from memory.</param>
/// <param name="Display">Its published name; another name beside the code is worth a warning, no more.</param>
public sealed record StandardCode(
    CodeSet Set, CodingSystem System, string Code, string? Means, Ear? Ear, ScreeningReason? Reason, char Source, string Display);

/// <summary>
/// The codes of LOINC and SNOMED CT we read and write, from <c>StandardCodes.tsv</c>. A code is looked up with its system: public
/// samples carry local codes under a LOINC label, and wrong names beside right codes.
/// </summary>
public static class StandardCodes
{
    public static IReadOnlyList<StandardCode> All { get; } = [.. Read()];

    private static readonly FrozenDictionary<(CodeSet, CodingSystem, string), StandardCode> ByCode =
        All.ToFrozenDictionary(c => (c.Set, c.System, c.Code));

    /// <summary>The code, or null when it is none of the set.</summary>
    public static StandardCode? Find(CodeSet set, CodingSystem system, string? code) =>
        code is null ? null : ByCode.GetValueOrDefault((set, system, code));

    /// <summary>The code of a system that says exactly this, or null.</summary>
    public static StandardCode? Saying(CodeSet set, CodingSystem system, string means, Ear? ear = null, ScreeningReason? reason = null) =>
        All.FirstOrDefault(c => c.Set == set && c.System == system && c.Means == means && c.Ear == ear && c.Reason == reason);

    private static IEnumerable<StandardCode> Read()
    {
        using var stream = typeof(StandardCodes).Assembly.GetManifestResourceStream("Registry.Intake.Rows.StandardCodes.tsv")
            ?? throw new InvalidOperationException("StandardCodes.tsv is not embedded.");
        using var reader = new StreamReader(stream);
        while (reader.ReadLine() is { } line)
        {
            if (line.Length == 0 || line[0] == '#') continue;
            if (line.Split('\t') is not [var set, var system, var code, var means, var ear, var reason, [var source], var display])
                throw new InvalidOperationException($"StandardCodes.tsv: a line does not have eight columns: {line}");
            yield return new(
                Codes.Parse<CodeSet>(set), Codes.Parse<CodingSystem>(system), code, means.Length == 0 ? null : means,
                ear.Length == 0 ? null : Codes.Parse<Ear>(ear), reason.Length == 0
                    ? null : Codes.Parse<ScreeningReason>(reason), source, display);
        }
    }
}
