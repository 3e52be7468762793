using Registry.Rules.Measures;
using Registry.Rules.Statistics;

namespace Registry.Reporting.Measures;

/// <summary>The estimates at an age; percentages with one decimal, null where too few are at risk.</summary>
/// <param name="AtRisk">Infants followed at this age and still without the step.</param>
/// <param name="Done">Kaplan-Meier: done by this age if nobody left.</param>
/// <param name="Lower">Lower log-log limit, 95 %, from Greenwood's variance.</param>
/// <param name="DoneCompeting">Aalen-Johansen: done by this age, death, move and refusal competing.</param>
/// <param name="LowerCompeting">Its lower log-log limit, 95 %, from the Greenwood-type variance.</param>
/// <param name="LeftFirst">Aalen-Johansen: died, moved or refused first.</param>
public sealed record CurveReading(int Months, int Days, int AtRisk, decimal? Done, decimal? Lower, decimal? Upper,
    decimal? DoneCompeting, decimal? LowerCompeting, decimal? UpperCompeting, decimal? LeftFirst);

/// <summary>A step of the drawn curves, in days of age and shares of 1.</summary>
public sealed record CurvePoint(int Day, double Done, double? Lower, double? Upper, double DoneCompeting);

/// <summary>Age at a step, estimated from cohorts still in progress.</summary>
/// <param name="Infants">Ever at risk by the last day that is completely reported.</param>
/// <param name="Through">That day.</param>
/// <param name="FromDay">First day of age with enough at risk: the curve is of those without the step by then. Null: never enough.</param>
/// <param name="ThroughDay">Last day of age with enough at risk.</param>
public sealed record CurveFigure(string Code, string Name, int Infants, DateOnly Through, int? FromDay, int? ThroughDay,
    IReadOnlyList<CurveReading> ReadAt, IReadOnlyList<CurvePoint> Points)
{
    private const int DrawnDays = 365;

    /// <summary>Never released: each step is an infant, and days of age are another definition of nearly the same as the months of the
    /// survey's lines.</summary>
    public static IReadOnlyList<CurveFigure> Of(Measured measured) =>
        [.. TimeToEvent.All.Select((curve, k) => Figure(curve, measured.Waits[k], measured))];

    private static CurveFigure Figure(TimeToEvent curve, IReadOnlyList<CompetingWait> waits, Measured measured)
    {
        var stretch = FollowedStretch.Of(waits, measured.Policy.CurveMinimum);
        var followed = stretch?.Waits ?? [];
        var survival = KaplanMeier.Estimate(followed.Select(w => new Waiting(w.Time, w.End == WaitEnd.Event, w.After)));
        var incidence = AalenJohansen.Estimate(followed);
        return new(curve.Code, curve.Name, waits.Count, measured.ReportedThrough, stretch?.From, stretch?.Through,
            [.. TimeToEvent.ReadAt.Select(at => Reading(at.Months, at.Days))], Steps(survival, incidence));

        CurveReading Reading(int months, int days)
        {
            var atRisk = FollowedStretch.AtRisk(waits, days);
            if (stretch is null || days < stretch.From || days > stretch.Through)
                return new(months, days, atRisk, null, null, null, null, null, null, null);
            var (step, at) = (KaplanMeier.At(survival, days), AalenJohansen.At(incidence, days));
            return new(months, days, atRisk,
                Percent(1 - (step?.Survival ?? 1)), Percent(1 - step?.Limits?.Upper), Percent(1 - step?.Limits?.Lower),
                Percent(at?.Event.Share ?? 0), Percent(at?.Event.Limits?.Lower), Percent(at?.Event.Limits?.Upper),
                Percent(at?.Competing.Share ?? 0));
        }
    }

    private static decimal? Percent(double? share) => MeasureReport.OneDecimal(100 * share);

    private static List<CurvePoint> Steps(SurvivalStep[] survival, IncidenceStep[] incidence) =>
    [
        new(0, 0, null, null, 0),
        .. survival.TakeWhile(s => s.Time <= DrawnDays).Select(s => new CurvePoint(s.Time, 1 - s.Survival, 1 - s.Limits?.Upper,
            1 - s.Limits?.Lower, AalenJohansen.At(incidence, s.Time)?.Event.Share ?? 0)),
    ];
}
