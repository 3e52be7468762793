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

    /// <summary>Nobody can act on it for good: after effusion 56 % never got a definitive result and 11 % had a permanent hearing loss
    /// (10.1002/ohn.306), so a conductive finding of which nobody said whether it lasts is no result yet.</summary>
    public static bool Definitive(EarFinding f, bool? stated) => Stands(f) && (f != EarFinding.Conductive || stated is not null);

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
    private readonly List<Standing> _after;

    /// <summary>What stands after a visit. <paramref name="OnlyMiddleEar"/>: it would be complete were a conductive finding
    /// definitive.</summary>
    private sealed record Standing(DateOnly On, bool Permanent, bool Complete, bool Loss, DateOnly? OnlyMiddleEar);

    public SlowDiagnosis(KnownFacts known, SlowScreening screening)
    {
        _known = known;
        _after = [.. Enumerable.Range(1, known.Visits.Length).Select(n => After(known.Visits[..n], screening))];
    }

    public bool Begun => _after.Count > 0;
    public DateOnly? CompleteOn => _after.Find(a => a.Complete)?.On;

    /// <summary>What is open is only that a conductive finding is not definitive: the day of the (last such) finding.</summary>
    public DateOnly? MiddleEar => Begun && !_known.Visits[^1].Provisional ? _after[^1].OnlyMiddleEar : null;

    /// <summary>The day the audiologist of the last day of visits set for the next; the latest set that day.</summary>
    public DateOnly? NextSet => _known.Visits.Where(v => v.EvaluatedOn == _known.LastVisit && v.NextOn > v.EvaluatedOn)
        .Select(v => v.NextOn).Max();

    /// <summary>The last visit was provisional, and found what is a permanent hearing loss.</summary>
    public bool ProvisionallyPermanent => IdentifiedOn is null && _known.Visits is [.., { Provisional: true } last]
        && (Findings.Permanent(last.Right, last.Permanent) || Findings.Permanent(last.Left, last.Permanent));

    /// <summary>The last final evaluation that found both ears normal.</summary>
    public DateOnly? LastNormal => _known.Visits.Where(v => v is { Provisional: false, Right: EarFinding.Normal, Left: EarFinding.Normal })
        .Select(v => (DateOnly?)v.EvaluatedOn).Max();
    public bool Closed => Begun && _after[^1].Complete && !_known.Visits[^1].Provisional;

    /// <summary>The day the present stretch of permanent hearing loss began.</summary>
    public DateOnly? IdentifiedOn => Begun && _after[^1].Permanent ? _after[_after.FindLastIndex(a => !a.Permanent) + 1].On : null;

    /// <summary>Complete without permanent hearing loss on a day before it was identified.</summary>
    public bool ClearedBefore => _after.Any(a => a.On < IdentifiedOn && a.Complete);

    /// <summary>The last evaluation that is final and found something of both ears.</summary>
    public DateOnly? LastFull => _known.Visits
        .Where(v => !v.Provisional && Findings.Definitive(v.Right, v.Permanent) && Findings.Definitive(v.Left, v.Permanent))
        .Select(v => (DateOnly?)v.EvaluatedOn).Max();

    public HearingConclusion Hearing =>
        !Begun ? HearingConclusion.NotEvaluated
        : _after[^1].Permanent ? HearingConclusion.PermanentLoss
        : !_after[^1].Complete ? HearingConclusion.InProcess
        : _after[^1].Loss ? HearingConclusion.NonPermanentLoss
        : HearingConclusion.Normal;

    public EarHearing Right => LastOf(v => (v.Right, v.RightDegree));
    public EarHearing Left => LastOf(v => (v.Left, v.LeftDegree));

    private Standing After(DiagnosticEvaluation[] visits, SlowScreening screening)
    {
        var finals = visits.Where(v => !v.Provisional).ToList();
        var right = finals.LastOrDefault(v => Findings.Stands(v.Right));
        var left = finals.LastOrDefault(v => Findings.Stands(v.Left));
        var (openRight, openLeft) = (Findings.Stands(right.Right) && !Findings.Definitive(right.Right, right.Permanent),
            Findings.Stands(left.Left) && !Findings.Definitive(left.Left, left.Permanent));
        var permanent = Findings.Permanent(right.Right, right.Permanent) || Findings.Permanent(left.Left, left.Permanent);
        bool Enough(bool hasRight, bool hasLeft) => hasRight && hasLeft || !_known.Policy.EvaluateBothEars
            && (hasLeft && screening.RightResult == EarResult.Pass && !openRight
                || hasRight && screening.LeftResult == EarResult.Pass && !openLeft);
        var complete = permanent ||
            Enough(Findings.Definitive(right.Right, right.Permanent), Findings.Definitive(left.Left, left.Permanent));
        var days = new[] { openRight ? right.EvaluatedOn : (DateOnly?)null, openLeft ? left.EvaluatedOn : null };
        return new(visits[^1].EvaluatedOn, permanent, complete, Findings.IsLoss(right.Right) || Findings.IsLoss(left.Left),
            !complete && Enough(Findings.Stands(right.Right), Findings.Stands(left.Left)) ? days.Max() : null);
    }

    private EarHearing LastOf(Func<DiagnosticEvaluation, (EarFinding Finding, LossDegree Degree)> ear) =>
        _known.Visits.Where(v => !v.Provisional && Findings.Stands(ear(v).Finding))
            .Select(v => new EarHearing(ear(v).Finding, ear(v).Degree, Findings.Permanent(ear(v).Finding, v.Permanent))).LastOrDefault();
}
