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

    /// <summary>Last evaluation that by itself concluded on both ears, not provisional; and the last that found both normal.</summary>
    public DateOnly? LastFullOn, LastNormalOn;

    /// <summary>All that is open is a conductive loss of unstated permanence, found on this day.</summary>
    public DateOnly? MiddleEarOn;

    /// <summary>The last evaluation was provisional, and found what would be a permanent loss.</summary>
    public bool ProvisionalLoss;

    /// <summary>When the audiologist of the last visit wants to see the child again.</summary>
    public DateOnly? NextOn;

    /// <summary>Complete, and the last evaluation was not provisional.</summary>
    public bool Closed;
    public bool Conflict;
}

/// <summary>
/// The last final finding of each ear stands. The diagnosis is complete when both ears have one, or when one ear has a
/// permanent loss. Provisional and inconclusive findings keep it open; so does a conductive loss not said to be permanent or not: it is
/// seen again after treatment of the middle ear.
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

        var (rightNow, leftNow, rightOpenOn, leftOpenOn, lastProvisional) = (new EarHearing(), new EarHearing(), NotOpen, NotOpen, false);
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
            if (Contradicts(evaluation, facts, policy, ref day)) found.Conflict = true;
            NoteVisit(evaluation, ref found);
            lastProvisional = evaluation.Provisional;
            if (evaluation.Provisional) continue;

            Take(evaluation.Right, evaluation.RightDegree, evaluation, ref rightNow, ref rightOpenOn);
            Take(evaluation.Left, evaluation.LeftDegree, evaluation, ref leftNow, ref leftOpenOn);
            if (Settles(evaluation.Right, evaluation.Permanent) && Settles(evaluation.Left, evaluation.Permanent))
                found.LastFullOn = evaluation.EvaluatedOn;
            if (evaluation is { Right: EarFinding.Normal, Left: EarFinding.Normal }) found.LastNormalOn = evaluation.EvaluatedOn;

            if (!(rightNow.Permanent || leftNow.Permanent)) found.PermanentLossOn = null;
            else if (found.PermanentLossOn is null)
                (found.PermanentLossOn, found.LossAfterClearing) = (evaluation.EvaluatedOn, found.CompleteOn < evaluation.EvaluatedOn);
            if (IsComplete()) found.CompleteOn ??= evaluation.EvaluatedOn;
        }

        if (found.FirstOn is null) return found;
        (found.Right, found.Left) = (rightNow, leftNow);
        found.Closed = IsComplete() && !lastProvisional;
        if (!lastProvisional && !IsComplete() && IsCompleteBut(ignoringMiddleEar: true))
            found.MiddleEarOn = rightOpenOn > leftOpenOn ? rightOpenOn : leftOpenOn;
        found.Hearing = found.PermanentLossOn is not null ? HearingConclusion.PermanentLoss
            : !IsComplete() ? HearingConclusion.InProcess
            : IsLoss(rightNow.Finding) || IsLoss(leftNow.Finding) ? HearingConclusion.NonPermanentLoss
            : HearingConclusion.Normal;
        return found;

        bool IsComplete() => rightNow.Permanent || leftNow.Permanent || IsCompleteBut(ignoringMiddleEar: false);

        bool IsCompleteBut(bool ignoringMiddleEar)
        {
            var hasRight = Concludes(rightNow.Finding) && (ignoringMiddleEar || rightOpenOn == NotOpen);
            var hasLeft = Concludes(leftNow.Finding) && (ignoringMiddleEar || leftOpenOn == NotOpen);
            return (hasRight || !policy.EvaluateBothEars && right == EarResult.Pass && rightOpenOn == NotOpen && hasLeft)
                && (hasLeft || !policy.EvaluateBothEars && left == EarResult.Pass && leftOpenOn == NotOpen && hasRight);
        }
    }

    private static readonly DateOnly NotOpen = DateOnly.MinValue;

    /// <summary>When it was, when the next is to be, and whether it only suspects a permanent loss.</summary>
    private static void NoteVisit(in DiagnosticEvaluation evaluation, ref Diagnosis found)
    {
        found.FirstOn ??= evaluation.EvaluatedOn;
        // Of two visits on one day the later date to come again stands.
        if (evaluation.EvaluatedOn > found.LastOn) found.NextOn = null;
        if (evaluation.NextOn > evaluation.EvaluatedOn && !(found.NextOn >= evaluation.NextOn)) found.NextOn = evaluation.NextOn;
        found.LastOn = evaluation.EvaluatedOn;
        found.ProvisionalLoss = evaluation.Provisional
            && (IsPermanent(evaluation.Right, evaluation.Permanent) || IsPermanent(evaluation.Left, evaluation.Permanent));
    }

    /// <summary>What a final evaluation says of an ear stands until the next that concludes on it.</summary>
    private static void Take(
        EarFinding finding, LossDegree degree, in DiagnosticEvaluation evaluation, ref EarHearing now, ref DateOnly openOn)
    {
        if (!Concludes(finding)) return;
        now = new(finding, degree, IsPermanent(finding, evaluation.Permanent));
        openOn = Settles(finding, evaluation.Permanent) ? NotOpen : evaluation.EvaluatedOn;
    }

    /// <summary>After the reported death; or final, and before term age.</summary>
    private static bool Contradicts(in DiagnosticEvaluation evaluation, InfantFacts facts, Policy policy, ref Day day) =>
        facts.DiedOn is { } died && evaluation.EvaluatedOn > died && day.Reached(died)
        || !evaluation.Provisional && (Concludes(evaluation.Right) || Concludes(evaluation.Left))
            && Age.PostMenstrualDays(facts.Birth, evaluation.EvaluatedOn) < 7 * policy.TermWeeks;

    /// <summary>Concludes, and is not a conductive loss of which nobody said whether it will last.</summary>
    private static bool Settles(EarFinding finding, bool? permanent) =>
        Concludes(finding) && !(finding == EarFinding.Conductive && permanent is null);

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
            if (c == 0) c = Nullable.Compare(a.Permanent, b.Permanent);
            return c != 0 ? c : Nullable.Compare(a.NextOn, b.NextOn);
        }

        static int Gravity(in DiagnosticEvaluation e) =>
            (IsPermanent(e.Right, e.Permanent) || IsPermanent(e.Left, e.Permanent) ? 4 : 0)
            + (IsLoss(e.Right) ? 1 : 0) + (IsLoss(e.Left) ? 1 : 0);
    }
}
