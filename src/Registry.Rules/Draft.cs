using System.Runtime.CompilerServices;
using Registry.Rules.Facts;

namespace Registry.Rules;

/// <summary>A status being made, on the stack: two of them are compared without allocating.</summary>
internal struct Draft
{
    public EarResult Right, Left;
    public ScreeningConclusion Screening;
    public Milestone Screened, Diagnosed, Enrolled;
    public HearingConclusion Hearing;
    public EarHearing RightHearing, LeftHearing;
    public DateOnly? IdentifiedOn, ScreenDecidedOn;
    public LossState Loss;
    public PathStep? LostAt;
    public SurveyCategory ScreeningCategory, DiagnosisCategory, InterventionCategory;
    public StatusFlags Flags;
    public Guid? ResponsibleSiteId;
    public BirthStay BirthStay;
    private DueBuffer _dues;
    private int _dueCount;

    /// <summary>Keeps the dues by date, then step, then rule.</summary>
    public void Add(DueStep step, DateOnly dueOn, string rule, Sentence why)
    {
        var at = _dueCount++;
        while (at > 0 && Precedes(step, dueOn, rule, _dues[at - 1]))
        {
            _dues[at] = _dues[at - 1];
            at--;
        }

        _dues[at] = new Due(step, dueOn, rule, why);
    }

    [System.Diagnostics.CodeAnalysis.UnscopedRef]
    public readonly ReadOnlySpan<Due> Dues => ((ReadOnlySpan<Due>)_dues)[.._dueCount];

    public readonly bool SameAs(in Draft other) =>
        Right == other.Right && Left == other.Left && Screening == other.Screening
        && Screened == other.Screened && Diagnosed == other.Diagnosed && Enrolled == other.Enrolled
        && Hearing == other.Hearing && RightHearing == other.RightHearing && LeftHearing == other.LeftHearing
        && IdentifiedOn == other.IdentifiedOn && ScreenDecidedOn == other.ScreenDecidedOn && Loss == other.Loss && LostAt == other.LostAt
        && ScreeningCategory == other.ScreeningCategory && DiagnosisCategory == other.DiagnosisCategory
        && InterventionCategory == other.InterventionCategory && Flags == other.Flags
        && ResponsibleSiteId == other.ResponsibleSiteId && Dues.SequenceEqual(other.Dues);

    public readonly InfantStatus ToStatus(DateOnly? nextChangeOn) => new()
    {
        Right = Right,
        Left = Left,
        Screening = Screening,
        Screened = Screened,
        Diagnosed = Diagnosed,
        Enrolled = Enrolled,
        Hearing = Hearing,
        RightHearing = RightHearing,
        LeftHearing = LeftHearing,
        IdentifiedOn = IdentifiedOn,
        ScreenDecidedOn = ScreenDecidedOn,
        Dues = Dues.ToArray(),
        Loss = Loss,
        LostAt = LostAt,
        ScreeningCategory = ScreeningCategory,
        DiagnosisCategory = DiagnosisCategory,
        InterventionCategory = InterventionCategory,
        Flags = Flags,
        ResponsibleSiteId = ResponsibleSiteId,
        BirthStay = BirthStay,
        NextChangeOn = nextChangeOn,
    };

    private static bool Precedes(DueStep step, DateOnly dueOn, string rule, in Due other)
    {
        if (dueOn != other.DueOn) return dueOn < other.DueOn;
        return step != other.Step ? step < other.Step : string.CompareOrdinal(rule, other.Rule) < 0;
    }

    /// <summary>More than the rules can ever ask for at once: 21 risk indicators and 12 others.</summary>
    [InlineArray(33)]
    private struct DueBuffer
    {
        private Due _first;
    }
}
