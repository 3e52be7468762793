using Registry.Rules.Measures;
using Registry.Rules.Statistics;

namespace Registry.Reporting.Measures;

/// <summary>The estimates at an age; percentages with one decimal.</summary>
/// <param name="Done">Kaplan-Meier: done by this age if nobody left. Null before enough is known.</param>
/// <param name="Lower">Lower log-log limit, 95 %, from Greenwood's variance.</param>
/// <param name="DoneCompeting">Aalen-Johansen: done by this age, death, move and refusal competing.</param>
/// <param name="LeftFirst">Aalen-Johansen: died, moved or refused first.</param>
/// <param name="Followed">Infants followed to this age, or whose wait ended before.</param>
public sealed record CurveReading(int Months, int Days, decimal? Done, decimal? Lower, decimal? Upper, decimal? DoneCompeting,
    decimal? LeftFirst, int Followed);

/// <summary>A step of the drawn curves, in days of age and shares of 1.</summary>
public sealed record CurvePoint(int Day, double Done, double? Lower, double? Upper, double DoneCompeting);

/// <summary>Age at a step, estimated from cohorts still in progress.</summary>
public sealed record CurveFigure(string Code, string Name, int Infants,
    IReadOnlyList<CurveReading> ReadAt, IReadOnlyList<CurvePoint> Points)
{
    private const int DrawnDays = 365;

    /// <summary>Never released: each step is an infant, and days of age are another definition of nearly the same as the months of the
    /// survey's lines.</summary>
    /// <param name="measured">The waits of each curve.</param>
    public static IReadOnlyList<CurveFigure> Of(Measured measured) =>
        [.. TimeToEvent.All.Select((curve, k) => Figure(curve, measured.Waits[k]))];

    private static CurveFigure Figure(TimeToEvent curve, IReadOnlyList<CompetingWait> waits)
    {
        var survival = KaplanMeier.Estimate(waits.Select(w => new Waiting(w.Time, w.End == WaitEnd.Event)));
        var incidence = AalenJohansen.Estimate(waits);
        return new(curve.Code, curve.Name, waits.Count,
            [.. TimeToEvent.ReadAt.Select(at => Reading(at.Months, at.Days, waits, survival, incidence))], Steps(survival, incidence));
    }

    private static CurveReading Reading(
        int months, int days, IReadOnlyList<CompetingWait> waits, SurvivalStep[] survival, IncidenceStep[] incidence)
    {
        var followed = waits.Count(w => w.Time >= days || w.End != WaitEnd.Censored);

        // Nobody was followed that far: the curve says nothing about this age.
        if (followed == 0) return new(months, days, null, null, null, null, null, 0);
        var step = KaplanMeier.At(survival, days);
        var at = incidence.LastOrDefault(s => s.Time <= days);
        return new(
            months, days, MeasureReport.OneDecimal(100 * (1 - (step?.Survival ?? 1))),
            MeasureReport.OneDecimal(100 * (1 - step?.Limits?.Upper)), MeasureReport.OneDecimal(100 * (1 - step?.Limits?.Lower)),
            MeasureReport.OneDecimal(100 * at.Event), MeasureReport.OneDecimal(100 * at.Competing), followed);
    }

    private static List<CurvePoint> Steps(SurvivalStep[] survival, IncidenceStep[] incidence)
    {
        var points = new List<CurvePoint> { new(0, 0, null, null, 0) };
        var k = 0;
        double competing = 0;
        foreach (var step in survival.TakeWhile(s => s.Time <= DrawnDays))
        {
            for (; k < incidence.Length && incidence[k].Time <= step.Time; k++) competing = incidence[k].Event;
            points.Add(new(step.Time, 1 - step.Survival, 1 - step.Limits?.Upper, 1 - step.Limits?.Lower, competing));
        }

        return points;
    }
}
