using System.Globalization;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>A point of a drawing, in its own units, with what it says and where it leads.</summary>
public sealed record DrawnPoint(double X, double Y, bool Marked, string Title, string Href);

/// <summary>A unit of a funnel: how much it did, its rate, what it says and where it leads.</summary>
public sealed record FunnelPoint(double Volume, double Rate, bool Marked, string Title, string Href);

/// <summary>A drawing the server makes: points, lines through them, and what stands beside the axes.</summary>
/// <param name="Label">For who cannot see it.</param>
/// <param name="Lines">Each a path in the drawing's units, with its class.</param>
/// <param name="Across">Ticks of the horizontal axis: where, and what it says.</param>
/// <param name="Up">Ticks of the vertical axis.</param>
public sealed record Drawing(
    string Label, IReadOnlyList<DrawnPoint> Points, IReadOnlyList<(string Class, string Path)> Lines,
    IReadOnlyList<(double X, string Text)> Across, IReadOnlyList<(double Y, string Text)> Up)
{
    /// <summary>Upright lines: where, and what happened; numbered in their order.</summary>
    public IReadOnlyList<(double X, string Text)> Marks { get; init; } = [];

    public const double Width = 720, Height = 260, Left = 44, Right = 12, Top = 12, Bottom = 28;
}

/// <summary>Draws rates: a funnel over volume, and weeks in their order. No script is needed to see them.</summary>
public static class DrawCharts
{
    private const double Inside = Drawing.Width - Drawing.Left - Drawing.Right, High = Drawing.Height - Drawing.Top - Drawing.Bottom;

    /// <summary>Units by their volume, with limits of 95 % and 99.8 % around a target (Spiegelhalter 2005).</summary>
    /// <param name="label">For who cannot see it.</param>
    /// <param name="units">None: nothing is drawn.</param>
    /// <param name="target">Nothing is drawn where it is 0 or 1.</param>
    /// <param name="limit">Of a volume, with a probability below it.</param>
    public static Drawing? Funnel(string label, IReadOnlyList<FunnelPoint> units, double target, Func<double, double, double> limit)
    {
        if (units.Count == 0 || target is not (> 0 and < 1)) return null;
        var largest = 1.05 * units.Max(u => u.Volume);
        var lowerQuartile = units.Select(u => u.Volume).Order().ElementAt(units.Count / 4);
        var top = Math.Min(1, 1.1 * Math.Max(units.Max(u => u.Rate), limit(lowerQuartile, 0.999)));
        double X(double n) => Drawing.Left + (Inside * n / largest);
        double Y(double rate) => Drawing.Top + (High * (1 - (Math.Clamp(rate, 0, top) / top)));
        List<(string, string)> lines = [("target", Path([(X(0), Y(target)), (X(largest), Y(target))]))];
        foreach (var (style, tail) in new[] { ("near", 0.025), ("near", 0.975), ("far", 0.001), ("far", 0.999) })
            lines.Add((style, Path(Enumerable.Range(1, 60).Select(i => largest * i * i / 3600).Select(n => (X(n), Y(limit(n, tail)))))));
        return new(label, [.. units.Select(u => new DrawnPoint(X(u.Volume), Y(u.Rate), u.Marked, u.Title, u.Href))],
            lines, [.. Ticks(largest).Select(n => (X(n), n.ToString("#,0.##", CultureInfo.InvariantCulture)))], Rates(top, Y));
    }

    /// <summary>Weeks in their order, with exact limits at the middle line.</summary>
    /// <param name="label">For who cannot see it.</param>
    /// <param name="chart">Its points are the weeks.</param>
    /// <param name="weeks">What each says, and where it leads.</param>
    /// <param name="onset">After how many weeks something began; null: nothing is marked.</param>
    /// <param name="marks">After how many weeks something was done, and what.</param>
    public static Drawing? Weeks(
        string label, PChart? chart, IReadOnlyList<(string Week, string Title, string Href)> weeks, double? onset = null,
        IEnumerable<(double Week, string Text)>? marks = null)
    {
        if (chart is null || weeks.Count == 0) return null;
        var shown = chart.Points.Index().Where(p => p.Item.Proportion.Denominator > 0).ToList();
        var top = Math.Min(1, 1.1 * Math.Max(0.02, shown.Max(p => Math.Max(p.Item.Proportion.Rate!.Value, Math.Min(p.Item.Upper, 0.5)))));
        double X(double week) => Drawing.Left + (Inside * (week + 0.5) / weeks.Count);
        double Y(double rate) => Drawing.Top + (High * (1 - (Math.Clamp(rate, 0, top) / top)));
        var every = Math.Max(1, weeks.Count / 6);
        return new(label,
            [.. shown.Select(p => new DrawnPoint(
                X(p.Index), Y(p.Item.Proportion.Rate!.Value), p.Item.Signal, weeks[p.Index].Title, weeks[p.Index].Href))],
            [
                ("target", Path([(Drawing.Left, Y(chart.Centre)), (Drawing.Width - Drawing.Right, Y(chart.Centre))])),
                ("far", Path(shown.Select(p => (X(p.Index), Y(p.Item.Upper))))),
                ("far", Path(shown.Select(p => (X(p.Index), Y(p.Item.Lower))))),
                ("through", Path(shown.Select(p => (X(p.Index), Y(p.Item.Proportion.Rate!.Value))))),
                .. onset is { } began ? [("onset", Path([(X(began - 0.5), Drawing.Top), (X(began - 0.5), Drawing.Top + High)]))]
                    : Array.Empty<(string, string)>(),
            ],
            [.. weeks.Index().Where(w => w.Index % every == 0).Select(w => (X(w.Index), w.Item.Week))], Rates(top, Y))
        {
            Marks = [.. (marks ?? []).Select(m => (X(m.Week - 0.5), m.Text))],
        };
    }

    private static List<(double, string)> Rates(double top, Func<double, double> y) =>
        [.. Ticks(top * 100).Select(p => (y(p / 100), p.ToString("0.##", CultureInfo.InvariantCulture) + " %"))];

    /// <summary>Four to nine round numbers from nothing to the largest.</summary>
    private static IEnumerable<double> Ticks(double largest)
    {
        var power = Math.Pow(10, Math.Floor(Math.Log10(largest)));
        var step = largest / power < 2 ? power / 5 : largest / power < 5 ? power / 2 : power;
        for (var tick = 0.0; tick <= largest; tick += step) yield return tick;
    }

    private static string Path(IEnumerable<(double X, double Y)> points) =>
        string.Join(' ', points.Select((p, i) => string.Create(
            CultureInfo.InvariantCulture, $"{(i == 0 ? 'M' : 'L')}{p.X:0.#} {p.Y:0.#}")));
}
