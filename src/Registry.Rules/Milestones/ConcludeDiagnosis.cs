using Registry.Rules.Facts;

namespace Registry.Rules.Milestones;

/// <summary>What the diagnostic evaluations say.</summary>
internal struct Diagnosis
{
    public HearingConclusion Hearing;

    /// <summary>The standing final finding of each ear.</summary>
    public EarHearing Right, Left;

    /// <summary>First and last day on which at least one ear was evaluated.</summary>
    public DateOnly? FirstOn, LastOn;

    /// <summary>First day the diagnosis was complete.</summary>
    public DateOnly? CompleteOn;

    /// <summary>Start of the present stretch of permanent loss: what the intervention clocks count from.</summary>
    public DateOnly? PermanentLossOn;

    /// <summary>The loss was found after the diagnosis had been complete without one.</summary>
    public bool LossAfterClearing;

    /// <summary>Last evaluation that by itself concluded on both ears, not provisional.</summary>
    public DateOnly? LastFullOn;

    /// <summary>Complete, and the last evaluation was not provisional.</summary>
    public bool Closed;
    public bool Conflict;
}

/// <summary>
/// The last final finding of each ear stands. The diagnosis is complete when both ears have one, or when one ear has a
/// permanent loss. Provisional and inconclusive findings keep it open.
/// </summary>
internal static class ConcludeDiagnosis
{
    /// <summary>The first day an audiologist evaluated an ear, by the as-of day.</summary>
    public static DateOnly? FirstEvaluatedOn(InfantFacts facts, ref Day day)
    {
        DateOnly? first = null;
        foreach (ref readonly var evaluation in facts.Evaluations.AsSpan())
        {
            if (Evaluates(evaluation) && evaluation.EvaluatedOn >= facts.Birth.Date && day.Reached(evaluation.EvaluatedOn)
                && !(first <= evaluation.EvaluatedOn))
                first = evaluation.EvaluatedOn;
        }

        return first;
    }

    /// <param name="right">Screening result of the right ear; a pass may stand in for a finding when policy allows.</param>
    /// <param name="left">The same, left.</param>
    public static Diagnosis From(InfantFacts facts, Policy policy, EarResult right, EarResult left, ref Day day)
    {
        var found = new Diagnosis();
        var evaluations = facts.Evaluations;
        if (evaluations.Length == 0) return found;

        Span<int> order = evaluations.Length <= 64 ? stackalloc int[evaluations.Length] : new int[evaluations.Length];
        OrderEvaluations(evaluations, order);

        var (rightNow, leftNow, lastProvisional) = (new EarHearing(), new EarHearing(), false);
        foreach (var index in order)
        {
            ref readonly var evaluation = ref evaluations[index];
            if (!day.Reached(evaluation.EvaluatedOn)) break;
            if (evaluation.EvaluatedOn < facts.Birth.Date)
            {
                found.Conflict = true;
                continue;
            }

            if (!Evaluates(evaluation)) continue;
            if (facts.DiedOn is { } died && evaluation.EvaluatedOn > died && day.Reached(died)) found.Conflict = true;
            found.FirstOn ??= evaluation.EvaluatedOn;
            found.LastOn = evaluation.EvaluatedOn;
            lastProvisional = evaluation.Provisional;
            if (evaluation.Provisional) continue;

            if (Concludes(evaluation.Right))
                rightNow = new(evaluation.Right, evaluation.RightDegree, IsPermanent(evaluation.Right, evaluation.Permanent));
            if (Concludes(evaluation.Left))
                leftNow = new(evaluation.Left, evaluation.LeftDegree, IsPermanent(evaluation.Left, evaluation.Permanent));
            if (Concludes(evaluation.Right) && Concludes(evaluation.Left)) found.LastFullOn = evaluation.EvaluatedOn;

            if (!(rightNow.Permanent || leftNow.Permanent)) found.PermanentLossOn = null;
            else if (found.PermanentLossOn is null)
                (found.PermanentLossOn, found.LossAfterClearing) = (evaluation.EvaluatedOn, found.CompleteOn < evaluation.EvaluatedOn);
            if (IsComplete()) found.CompleteOn ??= evaluation.EvaluatedOn;
        }

        if (found.FirstOn is null) return found;
        (found.Right, found.Left) = (rightNow, leftNow);
        found.Closed = IsComplete() && !lastProvisional;
        found.Hearing = found.PermanentLossOn is not null ? HearingConclusion.PermanentLoss
            : !IsComplete() ? HearingConclusion.InProcess
            : IsLoss(rightNow.Finding) || IsLoss(leftNow.Finding) ? HearingConclusion.NonPermanentLoss
            : HearingConclusion.Normal;
        return found;

        bool IsComplete() => rightNow.Permanent || leftNow.Permanent
            || (Concludes(rightNow.Finding) || !policy.EvaluateBothEars && right == EarResult.Pass && Concludes(leftNow.Finding))
            && (Concludes(leftNow.Finding) || !policy.EvaluateBothEars && left == EarResult.Pass && Concludes(rightNow.Finding));
    }

    private static bool Evaluates(in DiagnosticEvaluation e) =>
        e.Right != EarFinding.NotEvaluated || e.Left != EarFinding.NotEvaluated;

    private static bool Concludes(EarFinding finding) => finding is not (EarFinding.NotEvaluated or EarFinding.Inconclusive);

    private static bool IsLoss(EarFinding finding) => Concludes(finding) && finding != EarFinding.Normal;

    /// <summary>As stated; otherwise conductive loss is not permanent and any other is. A loss of undetermined type counts as
    /// permanent, so that the family is referred in time (common practice, no source).</summary>
    private static bool IsPermanent(EarFinding finding, bool? stated) =>
        IsLoss(finding) && (stated ?? finding != EarFinding.Conductive);

    /// <summary>By day; on one day provisional before final, and the graver finding last, so that it is the one that stands.</summary>
    private static void OrderEvaluations(ReadOnlySpan<DiagnosticEvaluation> evaluations, Span<int> order)
    {
        for (var i = 0; i < order.Length; i++)
        {
            var at = i;
            while (at > 0 && Compare(evaluations[order[at - 1]], evaluations[i]) > 0)
            {
                order[at] = order[at - 1];
                at--;
            }

            order[at] = i;
        }

        static int Compare(in DiagnosticEvaluation a, in DiagnosticEvaluation b)
        {
            var c = a.EvaluatedOn.CompareTo(b.EvaluatedOn);
            if (c == 0) c = b.Provisional.CompareTo(a.Provisional);
            if (c == 0) c = Gravity(a) - Gravity(b);
            if (c == 0) c = (int)a.Right - (int)b.Right;
            if (c == 0) c = (int)a.Left - (int)b.Left;
            if (c == 0) c = (int)a.RightDegree - (int)b.RightDegree;
            if (c == 0) c = (int)a.LeftDegree - (int)b.LeftDegree;
            return c != 0 ? c : Nullable.Compare(a.Permanent, b.Permanent);
        }

        static int Gravity(in DiagnosticEvaluation e) =>
            (IsPermanent(e.Right, e.Permanent) || IsPermanent(e.Left, e.Permanent) ? 4 : 0)
            + (IsLoss(e.Right) ? 1 : 0) + (IsLoss(e.Left) ? 1 : 0);
    }
}
