using Registry.Rules.Facts;
using Registry.Rules.Screening;

namespace Registry.Infants.Record;

/// <summary>What the instrument measured in one test, as the record shows it.</summary>
/// <param name="Detail">The measures.</param>
/// <param name="Holds">The test still holds; what was corrected or retracted is folded away.</param>
/// <param name="Criterion">How the outcome stands to the site's own criterion.</param>
/// <param name="Ear">Of which ear.</param>
public sealed record MeasuredView(TestDetail Detail, bool Holds, CriterionResult Criterion, Ear Ear)
{
    /// <summary>Measures of the whole test, each with its unit.</summary>
    public IEnumerable<(string Name, string Value)> Measures()
    {
        if (Detail.Stimulus is { } stimulus) yield return ("Stimulus", stimulus);
        if (Detail.DurationSeconds is { } seconds) yield return ("Duration", Value(seconds, "s"));
        if (Detail.ArtefactsRejected is { } artefacts) yield return ("Artefacts rejected", Value(artefacts, ""));
        if (Detail.EarCanalVolumeMl is { } volume) yield return ("Ear-canal volume", Value(volume, "ml"));
        if (Detail.AmbientNoiseDb is { } noise) yield return ("Ambient noise", Value(noise, "dB SPL"));
    }

    public static string Value(decimal? value, string unit = "") =>
        value is { } v ? FormattableString.Invariant($"{v} {unit}").TrimEnd().Replace("-", "\u2212", StringComparison.Ordinal) : "\u2014";
}
