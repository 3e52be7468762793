using Registry.Rules.Facts;

namespace Registry.Rules.Measures;

/// <summary>
/// Type, degree and laterality of the permanent losses found after a not-pass, by the last final finding of each ear. Laterality
/// counts infants ("one ear": no permanent loss found in the other so far); type and degree count ears, so that a different
/// loss in each ear is counted as what it is. Degree in dB HL as in Genetics in Medicine 2019;21:2614.
/// </summary>
internal static class LossKind
{
    private static readonly (EarFinding Finding, string Name)[] Types =
    [
        (EarFinding.Conductive, "Conductive"), (EarFinding.Sensorineural, "Sensorineural"), (EarFinding.Mixed, "Mixed"),
        (EarFinding.AuditoryNeuropathy, "Auditory neuropathy"), (EarFinding.LossUndetermined, "Type undetermined"),
    ];

    internal static IEnumerable<Line> Lines { get; } =
    [
        Line.Of("diagnosis.loss.unilateral", "Loss in one ear", i => EarsWithLoss(i) == 1),
        Line.Of("diagnosis.loss.bilateral", "Loss in both ears", i => EarsWithLoss(i) == 2),
        new("diagnosis.loss.bilateral.ears", "Ears, of losses in both ears", i => EarsWithLoss(i) == 2 ? 2 : 0),
        new("diagnosis.loss.ears", "Ears with a loss", EarsWithLoss),
        .. Types.Select(t => new Line(
            $"diagnosis.loss.type.{Codes.Of(t.Finding)}", $"{t.Name} (ears)", i => Ears(i, ear => ear.Finding == t.Finding))),
        .. Enum.GetValues<LossDegree>().Select(d => new Line(
            $"diagnosis.loss.degree.{Codes.Of(d)}", $"{Name(d)} (ears)", i => Ears(i, ear => ear.Degree == d))),
    ];

    internal static IEnumerable<Sum> Sums { get; } =
    [
        new("One ear and both ears are the permanent losses", "diagnosis.loss", ["diagnosis.loss.unilateral", "diagnosis.loss.bilateral"]),
        new("Ears with a loss", "diagnosis.loss.ears", ["diagnosis.loss.unilateral", "diagnosis.loss.bilateral.ears"]),
        new("The types are the ears with a loss", "diagnosis.loss.ears",
            [.. Types.Select(t => $"diagnosis.loss.type.{Codes.Of(t.Finding)}")]),
        new("The degrees are the ears with a loss", "diagnosis.loss.ears",
            [.. Enum.GetValues<LossDegree>().Select(d => $"diagnosis.loss.degree.{Codes.Of(d)}")]),
    ];

    private static int EarsWithLoss(MeasuredInfant i) => Ears(i, _ => true);

    private static int Ears(MeasuredInfant i, Func<EarHearing, bool> holds) =>
        i is { BornInRegion: true, NotPassed: true, Diagnosed: true, PermanentLoss: true }
            ? new[] { i.Status.RightHearing, i.Status.LeftHearing }.Count(ear => ear.Permanent && holds(ear))
            : 0;

    private static string Name(LossDegree degree) => degree switch
    {
        LossDegree.NotStated => "Degree not stated",
        LossDegree.ModeratelySevere => "Moderately severe",
        _ => degree.ToString(),
    };
}
