using Registry.Infants.Counting;
using Registry.Records;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>Counts of one group's birth-admission screening.</summary>
/// <param name="SiteId">The site it belongs to.</param>
/// <param name="Unit">The group; empty for the site itself, and when it was not reported.</param>
/// <param name="Figures">In the order of <see cref="ScreenFigure"/>.</param>
public sealed record ScreenCounts(SiteId SiteId, string Unit, IReadOnlyList<int> Figures)
{
    public int this[ScreenFigure figure] => Figures[(int)figure];

    public int Tests => this[ScreenFigure.Tests];
    public int Infants => this[ScreenFigure.Infants];
    public int Invalid => this[ScreenFigure.NoSeal] + this[ScreenFigure.Noise] + this[ScreenFigure.OtherReason];

    /// <summary>First sessions of infants that referred in an ear, of those with a valid result.</summary>
    public Proportion FirstRefer => new(this[ScreenFigure.SessionReferred], this[ScreenFigure.Sessions]);

    /// <summary>Infants whose last valid result was a refer in an ear, of those with a valid result.</summary>
    public Proportion Refer => new(this[ScreenFigure.Referred], this[ScreenFigure.Concluded]);

    /// <summary>Infants referred in both ears, of those referred.</summary>
    public Proportion BothOfReferred => new(this[ScreenFigure.ReferredBoth], this[ScreenFigure.Referred]);

    /// <summary>Tests of one ear without a valid result.</summary>
    public Proportion InvalidTests => new(Invalid, Tests);

    /// <summary>The reason most tests without a valid result state; null where there is no such test.</summary>
    public ScreenFigure? MostInvalid => Invalid == 0 ? null
        : new[] { ScreenFigure.NoSeal, ScreenFigure.Noise, ScreenFigure.OtherReason }.MaxBy(f => this[f]);

    public Proportion Of(ScreenFigure figure) => new(this[figure], Tests);

    /// <summary>Refers among valid tests of one ear.</summary>
    public Proportion EarRefer => new(this[ScreenFigure.Refers], Tests - Invalid);

    /// <summary>Infants with a valid result in both ears, of those tried.</summary>
    public Proportion BothEars => new(this[ScreenFigure.BothEars], Infants);
    public Proportion EarlyFirst => new(this[ScreenFigure.Early], this[ScreenFigure.WithAge]);
    public Proportion FirstDay => new(this[ScreenFigure.FirstDay], this[ScreenFigure.WithAge]);
    public double? AttemptsPerEar => this[ScreenFigure.Ears] == 0 ? null : (double)Tests / this[ScreenFigure.Ears];

    /// <summary>Several groups as one.</summary>
    public static ScreenCounts Sum(SiteId site, string unit, IEnumerable<ScreenCounts> counts)
    {
        var sum = new int[Enum.GetValues<ScreenFigure>().Length];
        foreach (var one in counts)
            for (var i = 0; i < sum.Length; i++) sum[i] += one.Figures[i];
        return new(site, unit, sum);
    }
}
