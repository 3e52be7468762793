using Registry.Facts;
using Registry.Rules.Facts;
using Registry.Rules.Screening;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>What the instrument measured in one test, as the record shows it.</summary>
/// <param name="Detail">The measures.</param>
/// <param name="Test">Ear and time.</param>
/// <param name="HeldUntil">When it was corrected or retracted, and is folded away; null while it holds.</param>
/// <param name="Criterion">How the outcome stands to the site's own criterion.</param>
public sealed record MeasuredView(TestDetail Detail, ReportedScreening Test, DateTimeOffset? HeldUntil, CriterionResult Criterion)
{
    public bool Holds => HeldUntil is null;
    public Ear Ear => Test.Ear;

    /// <summary>Names the table among those of other tests.</summary>
    public string TableName => $"Bands, {Words.Within(TimeLineWords.Ear(Ear))}, {Words.Moment(Test.PerformedAt)}"
        + (HeldUntil is { } until ? $", until {Words.Time(until)}" : "");

    /// <summary>Measures of the whole test, each with its unit.</summary>
    public IEnumerable<(string Name, string Value)> Measures()
    {
        if (Detail.Stimulus is { } stimulus) yield return ("Stimulus", stimulus);
        if (Detail.DurationSeconds is { } seconds) yield return ("Duration", Value(seconds, "s"));
        if (Detail.ArtefactsRejected is { } artefacts) yield return ("Artifacts rejected", Value(artefacts, ""));
        if (Detail.EarCanalVolumeMl is { } volume) yield return ("Ear-canal volume", Value(volume, "ml"));
        if (Detail.AmbientNoiseDb is { } noise) yield return ("Ambient noise", Value(noise, "dB SPL"));
    }

    public static string Value(decimal? value, string unit = "") =>
        value is { } v ? FormattableString.Invariant($"{v} {unit}").TrimEnd().Replace("-", "\u2212", StringComparison.Ordinal) : "\u2014";
}
