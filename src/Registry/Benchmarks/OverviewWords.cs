using Registry.Infants.List;
using Registry.Rules;
using Registry.Ui;

namespace Registry.Benchmarks;

/// <summary>What the overview says.</summary>
public static class OverviewWords
{
    public static string Of(BirthPeriod period) => period.Kind switch
    {
        BirthPeriodKind.LastTwelveMonths => "Last 12 months",
        BirthPeriodKind.Quarter => FormattableString.Invariant($"{period.From.Year}, quarter {(period.From.Month + 2) / 3}"),
        BirthPeriodKind.Year => $"Born in {period.Code}",
        _ => "From and to, below",
    };

    /// <summary>Who enters the rate of a milestone.</summary>
    public static string Counted(MilestoneKind kind) => kind switch
    {
        MilestoneKind.Screened => "Screened",
        MilestoneKind.Diagnosed => "Diagnosed, of those who need it",
        _ => "Enrolled in early intervention, of those with permanent hearing loss",
    };

    /// <summary>The rule of a milestone: "no later than 1 month after birth".</summary>
    public static string Rule(MilestoneKind kind, Policy policy)
    {
        var deadline = kind switch
        {
            MilestoneKind.Screened => policy.ScreeningDeadline,
            MilestoneKind.Diagnosed => policy.DiagnosisDeadline,
            _ => policy.InterventionDeadline,
        };
        var unit = deadline.Unit == DeadlineUnit.Months ? "month" : "day";
        return $"{(deadline.Inclusive ? "no later than" : "before")} {Words.Count(deadline.Amount, unit)} after birth";
    }
}
