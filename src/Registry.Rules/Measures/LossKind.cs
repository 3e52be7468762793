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

    /// <summary>Type by degree by laterality.</summary>
    private static IEnumerable<(int Ears, (EarFinding Finding, string Name) Type, LossDegree Degree, string Code)> Kinds =>
        from ears in new[] { 1, 2 }
        from type in Types
        from degree in Enum.GetValues<LossDegree>()
        select (ears, type, degree,
            $"diagnosis.loss.{(ears == 1 ? "unilateral" : "bilateral")}.{Codes.Of(type.Finding)}.{Codes.Of(degree)}");

    internal static IEnumerable<Line> Lines { get; } =
    [
        Line.Of("diagnosis.loss.unilateral", "Hearing loss in one ear", i => EarsWithLoss(i) == 1),
        Line.Of("diagnosis.loss.bilateral", "Hearing loss in both ears", i => EarsWithLoss(i) == 2),
        Line.Of("diagnosis.loss.to_be_confirmed", "Hearing loss still to be confirmed, the family in early intervention",
            i => IsCounted(i) && EarsWithLoss(i) == 0),
        new("diagnosis.loss.bilateral.ears", "Ears, of hearing losses in both ears", i => EarsWithLoss(i) == 2 ? 2 : 0),
        new("diagnosis.loss.ears", "Ears with hearing loss", EarsWithLoss),
        .. Types.Select(t => new Line(
            $"diagnosis.loss.type.{Codes.Of(t.Finding)}", $"{t.Name} (ears)", i => Ears(i, ear => ear.Finding == t.Finding))),
        .. Enum.GetValues<LossDegree>().Select(d => new Line(
            $"diagnosis.loss.degree.{Codes.Of(d)}", $"{Name(d)} (ears)", i => Ears(i, ear => ear.Degree == d))),
        .. Kinds.Select(k => new Line(
            k.Code, $"{(k.Ears == 1 ? "One ear" : "Both ears")}: {k.Type.Name}, {Name(k.Degree)} (ears)",
            i => EarsWithLoss(i) == k.Ears ? Ears(i, ear => ear.Finding == k.Type.Finding && ear.Degree == k.Degree) : 0)),
    ];

    internal static IEnumerable<Sum> Sums { get; } =
    [
        new("One ear, both ears and those still to be confirmed are the permanent hearing losses", "diagnosis.loss",
            ["diagnosis.loss.unilateral", "diagnosis.loss.bilateral", "diagnosis.loss.to_be_confirmed"]),
        new("Ears with hearing loss", "diagnosis.loss.ears", ["diagnosis.loss.unilateral", "diagnosis.loss.bilateral.ears"]),
        new("The types are the ears with hearing loss", "diagnosis.loss.ears",
            [.. Types.Select(t => $"diagnosis.loss.type.{Codes.Of(t.Finding)}")]),
        new("The degrees are the ears with hearing loss", "diagnosis.loss.ears",
            [.. Enum.GetValues<LossDegree>().Select(d => $"diagnosis.loss.degree.{Codes.Of(d)}")]),
        new("One ear: types and degrees", "diagnosis.loss.unilateral", [.. Kinds.Where(k => k.Ears == 1).Select(k => k.Code)]),
        new("Both ears: types and degrees", "diagnosis.loss.bilateral.ears", [.. Kinds.Where(k => k.Ears == 2).Select(k => k.Code)]),
    ];

    private static int EarsWithLoss(MeasuredInfant i) => Ears(i, _ => true);

    private static bool IsCounted(MeasuredInfant i) => i is { BornInRegion: true, NotPassed: true, Diagnosed: true, PermanentLoss: true };

    private static int Ears(MeasuredInfant i, Func<EarHearing, bool> holds) =>
        IsCounted(i) ? new[] { i.Status.RightHearing, i.Status.LeftHearing }.Count(ear => ear.Permanent && holds(ear)) : 0;

    private static string Name(LossDegree degree) => degree switch
    {
        LossDegree.NotStated => "Degree not stated",
        LossDegree.ModeratelySevere => "Moderately severe",
        _ => degree.ToString(),
    };
}
