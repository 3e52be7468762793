using Registry.Rules.Quality;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>
/// Draws units by their volume: as the last night compared them, each with its own case mix and limits widened by ordinary differences;
/// of a past day, and of what no night compares, as counted.
/// </summary>
public static class DrawFunnel
{
    public static Drawing? Of(ShownSites shown, UnitTable table)
    {
        var compared = shown.Lines.Where(l => l.Compared is { Standardized: not null }).ToList();
        if (compared.Count == 0)
        {
            var target = shown.Region.FirstRefer.Rate ?? 0;
            return DrawCharts.Funnel(SiteWords.FunnelAsCounted,
                [.. shown.Lines.Where(l => l.Counts.FirstRefer.Denominator > 0).Select(l => new FunnelPoint(
                    l.Counts.FirstRefer.Denominator, l.Counts.FirstRefer.Rate!.Value, IsFlagged(l),
                    SiteWords.Point(table.Name(l), l.Counts.FirstRefer), table.Tests(l, "first_refer")))],
                target, (n, p) => FunnelLimits.At(target, Whole(n), p));
        }

        var any = compared[0].Compared!;
        var rate = any.All.Rate ?? 0;
        var spread = new OddsSpread(any.Phi, any.TauSquared);
        return DrawCharts.Funnel(SiteWords.Funnel(any),
            [.. compared.Select(l => new FunnelPoint(
                l.Compared!.Expected, l.Compared.Standardized!.Value, IsFlagged(l), SiteWords.Point(table.Name(l), l.Compared),
                table.ComparedTests(l)))],
            rate, (expected, p) => Widened(rate, expected, p, spread));
    }

    /// <summary>The exact limit of so many expected at the target, its distance from it widened as z is
    /// (<see cref="OddsSpread.Additive"/>).</summary>
    public static double Widened(double target, double expected, double p, OddsSpread spread)
    {
        var exact = FunnelLimits.At(target, Whole(expected / target), p);
        return Math.Clamp(target + ((exact - target) * spread.Widening(expected * (1 - target))), 0, 1);
    }

    private static bool IsFlagged(UnitLine line) => line.Of(SessionMeasure.Referred).Any();

    private static int Whole(double n) => (int)Math.Max(1, Math.Round(n));
}
