using Registry.Rules.Facts;
using Registry.Rules.Milestones;

namespace Registry.Rules.Surveillance;

/// <summary>
/// Diagnostic evaluations due because of a risk indicator. They are asked of infants who passed screening, or whose
/// completed evaluation found no permanent loss; a concern of the caregiver is answered at once, whatever the screen said.
/// An evaluation answers an indicator when it concluded on both ears, was not provisional, and is not older than the
/// indicator (nor earlier than the age the indicator asks for).
/// </summary>
internal static class DueSurveillance
{
    private static readonly int Kinds = Enum.GetValues<RiskIndicatorKind>().Length;

    public static void Into(ref Draft status, in CarePath path, ref Day day)
    {
        if (path.Facts.RiskIndicators.Length == 0 && !path.LongNicuStay) return;
        if (!path.Absent.IsNone || path.DiagnosisDeclined || path.Diagnosis.PermanentLossOn is not null) return;

        var inEvaluation = path.DiagnosisOpen || path.Diagnosis.LastOn is not null && !path.Diagnosis.Closed;
        var cleared = !inEvaluation && (path.Conclusion == ScreeningConclusion.Passed || path.Diagnosis.Closed);
        Span<int> soonest = stackalloc int[Kinds];
        soonest.Fill(int.MaxValue);

        foreach (ref readonly var risk in path.Facts.RiskIndicators.AsSpan())
        {
            if (risk.Kind == RiskIndicatorKind.NicuOverFiveDays || !day.Reached(risk.NotedOn)) continue;
            if (!cleared && risk.Kind != RiskIndicatorKind.CaregiverConcern) continue;
            Ask(risk.Kind, risk.NotedOn < path.Born ? path.Born : risk.NotedOn, path, soonest, ref day);
        }

        if (cleared && path.LongNicuStay) Ask(RiskIndicatorKind.NicuOverFiveDays, path.Born, path, soonest, ref day);

        for (var kind = 0; kind < soonest.Length; kind++)
        {
            if (soonest[kind] == int.MaxValue) continue;
            if (path.Conclusion == ScreeningConclusion.Passed) status.Flags |= StatusFlags.UnderSurveillance;
            status.Add(DueStep.SurveillanceEvaluation, DateOnly.FromDayNumber(soonest[kind]), RuleCatalogue.Surveillance[kind].Id,
                new Sentence(RuleCatalogue.SurveillanceWhy[kind]));
        }

        AbrScreen(ref status, path, cleared, ref day);
    }

    private static void Ask(RiskIndicatorKind kind, DateOnly notedOn, in CarePath path, Span<int> soonest, ref Day day)
    {
        var time = path.Policy.Surveillance[(int)kind];
        var end = time.UntilAgeYears is { } years ? path.Born.AddYears(years) : DateOnly.MaxValue;
        if (time.UntilAgeYears is not null && day.Reached(end)) return;

        var from = time.NotBeforeAgeMonths is { } months && path.Born.AddMonths(months) is var least && least > notedOn ? least : notedOn;
        DateOnly dueOn;
        if (path.Diagnosis.LastFullOn is { } last && last >= from)
        {
            if (time.EveryMonths is not { } every) return;
            dueOn = last.AddMonths(every);
        }
        else if (time.ByAgeMonths is { } byAge)
        {
            var by = path.Born.AddMonths(byAge);
            dueOn = by < notedOn ? notedOn : by;
        }
        else
        {
            dueOn = notedOn.AddMonths(time.WithinMonths ?? 0);
        }

        if (dueOn < end && dueOn.DayNumber < soonest[(int)kind]) soonest[(int)kind] = dueOn.DayNumber;
    }

    /// <summary>Indicators that also ask for an ABR-based screen of both ears.</summary>
    private static void AbrScreen(ref Draft status, in CarePath path, bool cleared, ref Day day)
    {
        if (!cleared || path.ScreeningDeclined || path.Diagnosis.LastFullOn is not null) return;
        if (path.Screen.Right.LastAbr is not null && path.Screen.Left.LastAbr is not null) return;
        var soonest = DateOnly.MaxValue;
        foreach (ref readonly var risk in path.Facts.RiskIndicators.AsSpan())
        {
            if (path.Policy.Surveillance[(int)risk.Kind].AbrScreenByAgeMonths is not { } months || !day.Reached(risk.NotedOn)) continue;
            var by = path.Born.AddMonths(months);
            if (by < risk.NotedOn) by = risk.NotedOn;
            if (by < soonest) soonest = by;
        }

        if (soonest == DateOnly.MaxValue) return;
        status.Add(DueStep.RepeatScreen, soonest, RuleCatalogue.AbrForIndicator.Id,
            new Sentence("a risk indicator asks for an ABR-based screen of both ears"));
    }
}
