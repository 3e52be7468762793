using Registry.Rules.Facts;

namespace Registry.Rules.Audiology;

/// <summary>A degree of hearing loss by its levels in dB HL.</summary>
/// <param name="Degree">Not stated: within normal.</param>
/// <remarks>Clark, J. G. (1981). Uses and abuses of hearing loss classification. Asha 23, 493-500: normal -10 to 15, slight 16 to 25, mild
/// 26 to 40, moderate 41 to 55, moderately severe 56 to 70, severe 71 to 90, profound 91 and more. Genet Med 2019;21:2614 has the same from
/// 16 on.</remarks>
public readonly record struct DegreeBand(LossDegree Degree, int LeastDb, int MostDb)
{
    public static IReadOnlyList<DegreeBand> All { get; } =
    [
        new(LossDegree.NotStated, Threshold.LeastDb, 15), new(LossDegree.Slight, 16, 25), new(LossDegree.Mild, 26, 40),
        new(LossDegree.Moderate, 41, 55), new(LossDegree.ModeratelySevere, 56, 70), new(LossDegree.Severe, 71, 90),
        new(LossDegree.Profound, 91, Threshold.MostDb),
    ];

    /// <summary>The band of an average, which counts as its nearest whole decibel.</summary>
    public static DegreeBand Of(decimal db)
    {
        var whole = (int)decimal.Round(db, MidpointRounding.AwayFromZero);
        return All.Last(b => whole >= b.LeastDb || b.Degree == LossDegree.NotStated);
    }
}
