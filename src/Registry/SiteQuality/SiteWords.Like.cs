using System.Globalization;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>What the comparison with sites like it says.</summary>
public static partial class SiteWords
{
    public static readonly IReadOnlyList<(string Name, Func<UnitLine, Proportion?> Of)> LikeMeasures =
    [
        ("First test referred", l => l.Counts.FirstRefer),
        ("Referred at discharge", l => l.Counts.Refer),
        ("Tests without a valid result", l => l.Counts.InvalidTests),
        ("A valid result in both ears", l => l.Counts.BothEars),
        ("Early for the method", l => l.Counts.EarlyFirst),
        (LaterThanAgreed, l => l.Late),
    ];

    /// <summary>Each site by its own agreement.</summary>
    public const string LaterThanAgreed = "Received later than agreed";

    public static string LikeExplained(int others) =>
        $"Beside the {others} others of its care and volume, never itself, from the lowest rate of one of them to the highest; none is "
            + "named. Of the same level of care with half to twice as many infants, else the nearest (common practice, no source; the "
            + "numbers are ours). Not adjusted for case mix: flags are.";

    public static string Percent(Proportion rate) =>
        rate.ToPercent() is { } percent ? string.Create(CultureInfo.InvariantCulture, $"{percent:0.0} %") : "—";
}
