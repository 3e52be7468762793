using System.Globalization;
using Registry.Rules.Statistics;

namespace Registry.FollowUp.Chance;

/// <summary>A group in the drawing's units: where it stands, and how far up and down its interval reaches.</summary>
public sealed record CalibrationMark(double X, double Y, double Low, double High, string Title);

/// <summary>What was told beside what came of it, as the server draws it. No script is needed to see it.</summary>
/// <param name="Ticks">Of both axes alike: in percent, and how far from the origin.</param>
public sealed record CalibrationDrawing(IReadOnlyList<CalibrationMark> Marks, IReadOnlyList<(string Text, double Far)> Ticks, string Says)
{
    /// <summary>About as wide as a phone, so that its letters are read there as they are.</summary>
    public const double Width = 356, Height = 344, Left = 44, Top = 26, Inside = 270;

    public const double Bottom = Top + Inside;
}

/// <summary>Draws groups of cases: the chance told across, the share that was lost up, with its 95 % interval by Wilson.</summary>
public static class DrawCalibration
{
    public static CalibrationDrawing Of(IReadOnlyList<CalibrationGroup> groups)
    {
        var points = groups.Select(g => (Group: g, Told: g.Expected / g.Cases, Lost: new Proportion(g.Events, g.Cases))).ToList();
        var top = Math.Min(1, 1.05 * points.Max(p => Math.Max(p.Told, p.Lost.Wilson()!.Value.Upper)));
        const double left = CalibrationDrawing.Left, bottom = CalibrationDrawing.Bottom;
        double Far(double share) => CalibrationDrawing.Inside * Math.Min(1, share / top);
        var step = top > 0.5 ? 0.2 : top > 0.25 ? 0.1 : top > 0.1 ? 0.05 : 0.02;
        return new(
            [
                .. points.Select(p => new CalibrationMark(left + Far(p.Told), bottom - Far(p.Lost.Rate!.Value),
                    bottom - Far(p.Lost.Wilson()!.Value.Lower), bottom - Far(p.Lost.Wilson()!.Value.Upper), ChanceWords.Of(p.Group))),
            ],
            [
                .. Enumerable.Range(0, 1 + (int)Math.Floor((top / step) + 1e-9))
                    .Select(i => ((100 * step * i).ToString("0", CultureInfo.InvariantCulture), Far(step * i))),
            ],
            string.Join("; ", groups.Select(ChanceWords.Of)));
    }
}
