using System.Globalization;
using Registry.Infants.Counting;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>What the comparison with sites like it says.</summary>
public static partial class SiteWords
{
    public static readonly IReadOnlyList<(string Name, Func<ScreenCounts, Proportion> Of)> LikeMeasures =
    [
        ("First test referred", c => c.FirstRefer),
        ("Referred at discharge", c => c.Refer),
        ("Tests without a valid result", c => c.InvalidTests),
        ("A valid result in both ears", c => c.BothEars),
        ("Early for the method", c => c.EarlyFirst),
        ("Received later than 7 days", c => c.Of(ScreenFigure.Late)),
    ];

    public static string LikeExplained(int others) =>
        $"Beside the {others} others of its care and volume, never itself, from the lowest rate of one of them to the highest; none is "
            + "named. Of the same level of care with half to twice as many infants, else the nearest (common practice, no source; the "
            + "numbers are ours). Not adjusted for case mix: flags are.";

    public static string Percent(Proportion rate) =>
        rate.ToPercent() is { } percent ? string.Create(CultureInfo.InvariantCulture, $"{percent:0.0} %") : "—";
}
