using Registry.Rules.Facts;
using Registry.Rules.Milestones;

namespace Registry.Rules.Surveillance;

/// <summary>
/// Later evaluations: because of a risk indicator, to monitor a permanent hearing loss, or because the audiologist said when. Indicators
/// are asked of infants who passed screening, or whose completed evaluation found no permanent loss; a concern of the caregiver is answered
/// at once, whatever the screen said and whatever the family had declined. An evaluation answers an indicator when it concluded on both
/// ears, was not provisional, and is not older than the indicator (nor earlier than the age the indicator asks for).
/// </summary>
internal static class DueSurveillance
{
    private static readonly int Kinds = Enum.GetValues<RiskIndicatorKind>().Length;

    public static void Into(ref Draft status, in CarePath path, ref Day day)
    {
        if (!path.Absent.IsNone) return;
        if (path.Diagnosis.PermanentLossOn is not null || path.Diagnosis.NextOn is not null) Monitoring(ref status, path, ref day);
        if (path.Facts.RiskIndicators.Length == 0 && !path.LongNicuStay || path.Diagnosis.PermanentLossOn is not null) return;

        var inEvaluation = path.DiagnosisOpen || path.Diagnosis.LastOn is not null && !path.Diagnosis.Closed;
        var cleared = !path.DiagnosisDeclined && !inEvaluation
            && (path.Conclusion == ScreeningConclusion.Passed || path.Diagnosis.Closed);
        Span<int> soonest = stackalloc int[Kinds];
        soonest.Fill(int.MaxValue);

        foreach (ref readonly var risk in path.Facts.RiskIndicators.AsSpan())
        {
            if (risk.Kind == RiskIndicatorKind.NicuOverFiveDays || !day.Reached(risk.NotedOn)) continue;
            if (!cleared && risk.Kind != RiskIndicatorKind.CaregiverConcern) continue;
            var fromBirth = risk.NotedOn < path.Born || SurveillanceTime.IsCongenital(risk.Kind);
            Ask(risk.Kind, fromBirth ? path.Born : risk.NotedOn, path, soonest, ref day);
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

    /// <summary>The audiologist's date, else the table's for a permanent loss. With an evaluation under way that one has the
    /// date.</summary>
    private static void Monitoring(ref Draft status, in CarePath path, ref Day day)
    {
        ref readonly var diagnosis = ref path.Diagnosis;
        if (path.DiagnosisDeclined || !diagnosis.Closed) return;
        if (diagnosis.NextOn is { } next)
        {
            status.Add(DueStep.Monitoring, next, RuleCatalogue.AudiologistsDate.Id,
                new Sentence("seen on {0:d}: the audiologist wants to see the child again then", diagnosis.LastOn!.Value.DayNumber));
            return;
        }

        var dueOn = diagnosis.LastOn!.Value.AddMonths(path.Policy.MonitoringMonths);
        var end = path.Born.AddYears(path.Policy.MonitoringUntilYears);
        if (dueOn < end && !day.Reached(end))
            status.Add(DueStep.Monitoring, dueOn, RuleCatalogue.Monitoring.Id,
                new Sentence("permanent hearing loss, last evaluated on {0:d}", diagnosis.LastOn.Value.DayNumber));
    }

    private static void Ask(RiskIndicatorKind kind, DateOnly notedOn, in CarePath path, Span<int> soonest, ref Day day)
    {
        var time = path.Policy.Surveillance[(int)kind];
        var end = time.UntilAgeYears is { } years ? path.Born.AddYears(years) : DateOnly.MaxValue;
        if (time.UntilAgeYears is not null && day.Reached(end)) return;
        if (time.AbrPassEnds && path.Screen.BothPassedAbr) return;

        ref readonly var diagnosis = ref path.Diagnosis;
        // The audiologist knew of it and said when.
        if (diagnosis.Closed && diagnosis.NextOn is not null && diagnosis.LastOn >= notedOn) return;

        var from = time.NotBeforeAgeMonths is { } months && path.Born.AddMonths(months) is var least && least > notedOn ? least : notedOn;
        var by = time.ByAgeMonths is { } age ? path.Born.AddMonths(age) : notedOn.AddMonths(time.WithinMonths ?? 0);
        var dueOn = by < notedOn ? notedOn : by;
        if (diagnosis.LastFullOn is { } last && last >= from)
        {
            if (time.EveryMonths is { } every) dueOn = last.AddMonths(every);
            else if (diagnosis.LastNormalOn >= from) return;
            // A passing loss was found: not ended, and seen again after treatment.
            else if (path.Policy.MiddleEarReevaluation.LastDay(last) is var again && again > dueOn) dueOn = again;
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
        status.Add(DueStep.AbrScreen, soonest, RuleCatalogue.AbrForIndicator.Id,
            new Sentence("a risk indicator asks for an ABR-based screen of both ears"));
    }
}
