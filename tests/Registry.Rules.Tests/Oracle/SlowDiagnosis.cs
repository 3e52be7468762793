using Registry.Rules.Facts;

namespace Registry.Rules.Tests.Oracle;

/// <summary>What a finding of an ear is. Source: ours where permanence is not stated (undetermined counts as permanent).</summary>
internal static class Findings
{
    public static bool IsLoss(EarFinding f) => f is EarFinding.Conductive or EarFinding.Sensorineural or EarFinding.Mixed
        or EarFinding.AuditoryNeuropathy or EarFinding.LossUndetermined;

    public static bool Stands(EarFinding f) => IsLoss(f) || f == EarFinding.Normal;

    public static bool Permanent(EarFinding f, bool? stated) =>
        IsLoss(f) && (stated == true || stated is null && f != EarFinding.Conductive);

    public static int Gravity(DiagnosticEvaluation e) =>
        (Permanent(e.Right, e.Permanent) || Permanent(e.Left, e.Permanent) ? 10 : 0) + new[] { e.Right, e.Left }.Count(IsLoss);
}

/// <summary>
/// Section 5: what stands after each visit. Source: JCIH 2007 and 2019 ask for a complete evaluation of both ears; that provisional and
/// inconclusive findings keep it open is common practice.
/// </summary>
internal sealed class SlowDiagnosis
{
    private readonly KnownFacts _known;
    private readonly List<(DateOnly On, bool Permanent, bool Complete, bool Loss)> _after;

    public SlowDiagnosis(KnownFacts known, SlowScreening screening)
    {
        _known = known;
        _after = [.. Enumerable.Range(1, known.Visits.Length).Select(n => After(known.Visits[..n], screening))];
    }

    public bool Begun => _after.Count > 0;
    public DateOnly? CompleteOn => _after.Any(a => a.Complete) ? _after.First(a => a.Complete).On : null;
    public bool Closed => Begun && _after[^1].Complete && !_known.Visits[^1].Provisional;

    /// <summary>The day the present stretch of permanent hearing loss began.</summary>
    public DateOnly? IdentifiedOn => Begun && _after[^1].Permanent ? _after[_after.FindLastIndex(a => !a.Permanent) + 1].On : null;

    /// <summary>Complete without permanent hearing loss on a day before it was identified.</summary>
    public bool ClearedBefore => _after.Any(a => a.On < IdentifiedOn && a.Complete);

    /// <summary>The last evaluation that is final and found something of both ears.</summary>
    public DateOnly? LastFull => _known.Visits.Where(v => !v.Provisional && Findings.Stands(v.Right) && Findings.Stands(v.Left))
        .Select(v => (DateOnly?)v.EvaluatedOn).Max();

    public HearingConclusion Hearing =>
        !Begun ? HearingConclusion.NotEvaluated
        : _after[^1].Permanent ? HearingConclusion.PermanentLoss
        : !_after[^1].Complete ? HearingConclusion.InProcess
        : _after[^1].Loss ? HearingConclusion.NonPermanentLoss
        : HearingConclusion.Normal;

    public EarHearing Right => LastOf(v => (v.Right, v.RightDegree));
    public EarHearing Left => LastOf(v => (v.Left, v.LeftDegree));

    private (DateOnly On, bool Permanent, bool Complete, bool Loss) After(DiagnosticEvaluation[] visits, SlowScreening screening)
    {
        var finals = visits.Where(v => !v.Provisional).ToList();
        var right = finals.LastOrDefault(v => Findings.Stands(v.Right));
        var left = finals.LastOrDefault(v => Findings.Stands(v.Left));
        var (hasRight, hasLeft) = (Findings.Stands(right.Right), Findings.Stands(left.Left));
        var permanent = Findings.Permanent(right.Right, right.Permanent) || Findings.Permanent(left.Left, left.Permanent);
        var oneEarIsEnough = !_known.Policy.EvaluateBothEars
            && (hasLeft && screening.RightResult == EarResult.Pass || hasRight && screening.LeftResult == EarResult.Pass);
        return (visits[^1].EvaluatedOn, permanent, permanent || hasRight && hasLeft || oneEarIsEnough,
            Findings.IsLoss(right.Right) || Findings.IsLoss(left.Left));
    }

    private EarHearing LastOf(Func<DiagnosticEvaluation, (EarFinding Finding, LossDegree Degree)> ear) =>
        _known.Visits.Where(v => !v.Provisional && Findings.Stands(ear(v).Finding))
            .Select(v => new EarHearing(ear(v).Finding, ear(v).Degree, Findings.Permanent(ear(v).Finding, v.Permanent))).LastOrDefault();
}
