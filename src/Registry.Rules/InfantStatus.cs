using System.Text.Json.Serialization;
using Registry.Rules.Facts;

namespace Registry.Rules;

/// <summary>
/// Where one infant stands on one day under one policy: derived from <see cref="InfantFacts"/> by
/// <see cref="EvaluateInfant"/>, never typed in.
/// </summary>
public sealed record InfantStatus
{
    public required EarResult Right { get; init; }
    public required EarResult Left { get; init; }
    public required ScreeningConclusion Screening { get; init; }

    /// <summary>The three milestones, each with the facts that decided it.</summary>
    public required Milestone Screened { get; init; }
    public required Milestone Diagnosed { get; init; }
    public required Milestone Enrolled { get; init; }

    public required HearingConclusion Hearing { get; init; }

    /// <summary>The day of the screen that decided <see cref="Screening"/>: only tests that count move it. Null until the screen is
    /// complete.</summary>
    public DateOnly? ScreenDecidedOn { get; init; }

    /// <summary>The final finding that stands for each ear; <see cref="EarFinding.NotEvaluated"/> while there is none.</summary>
    public EarHearing RightHearing { get; init; }
    public EarHearing LeftHearing { get; init; }

    /// <summary>The day permanent hearing loss was confirmed (the start of the present stretch of it).</summary>
    public DateOnly? IdentifiedOn { get; init; }

    /// <summary>Which ears have a permanent loss.</summary>
    public Laterality Laterality => (RightHearing.Permanent, LeftHearing.Permanent) switch
    {
        (true, true) => Laterality.Bilateral,
        (true, false) => Laterality.Right,
        (false, true) => Laterality.Left,
        _ => Laterality.None,
    };

    /// <summary>What is due, soonest first; empty when nothing is.</summary>
    public required Due[] Dues { get; init; }

    /// <summary>The step the family is lost at, when <see cref="Loss"/> is not <see cref="LossState.None"/>.</summary>
    public required LossState Loss { get; init; }
    public PathStep? LostAt { get; init; }

    /// <summary>National survey category of each step (see <see cref="SurveyCategory"/>).</summary>
    public required SurveyCategory ScreeningCategory { get; init; }
    public required SurveyCategory DiagnosisCategory { get; init; }
    public required SurveyCategory InterventionCategory { get; init; }

    public required StatusFlags Flags { get; init; }

    /// <summary>Who owns the next step: the site the infant was last transferred to, or the birth site.</summary>
    public Guid? ResponsibleSiteId { get; init; }

    /// <summary>The birth admission, as far as it is known.</summary>
    public BirthStay BirthStay { get; init; }

    /// <summary>The first later day on which this status would differ with no new fact; null when the calendar changes nothing.
    /// The nightly sweep recomputes only infants whose day has come.</summary>
    public DateOnly? NextChangeOn { get; init; }

    /// <summary>Equal when every field is, the dues one by one.</summary>
    public bool Equals(InfantStatus? other) =>
        other is not null
        && Right == other.Right && Left == other.Left && Screening == other.Screening
        && ScreenDecidedOn == other.ScreenDecidedOn && Screened == other.Screened
            && Diagnosed == other.Diagnosed && Enrolled == other.Enrolled
        && Hearing == other.Hearing && RightHearing == other.RightHearing && LeftHearing == other.LeftHearing
        && IdentifiedOn == other.IdentifiedOn && Dues.AsSpan().SequenceEqual(other.Dues)
        && Loss == other.Loss && LostAt == other.LostAt
        && ScreeningCategory == other.ScreeningCategory && DiagnosisCategory == other.DiagnosisCategory
        && InterventionCategory == other.InterventionCategory && Flags == other.Flags
        && ResponsibleSiteId == other.ResponsibleSiteId && BirthStay == other.BirthStay && NextChangeOn == other.NextChangeOn;

    public override int GetHashCode() =>
        HashCode.Combine(Screening, Screened, Diagnosed, Enrolled, Hearing, Dues.Length, Flags, NextChangeOn);
}

/// <summary>The counting result of one ear.</summary>
public enum EarResult { NotScreened, Pass, Refer, NoValidResult }

public enum ScreeningConclusion
{
    NotScreened,

    /// <summary>Attempted, but at least one ear has no valid result that counts.</summary>
    Incomplete,
    Passed,
    ReferredOneEar,
    ReferredBothEars,
}

public enum MilestoneState
{
    /// <summary>The step does not arise (a diagnosis after a pass).</summary>
    NotRequired,

    /// <summary>Not done, deadline not passed.</summary>
    Pending,

    /// <summary>Done by the deadline.</summary>
    Met,

    /// <summary>Done after the deadline.</summary>
    Late,

    /// <summary>Not done, deadline passed.</summary>
    Missed,

    /// <summary>Died, moved away, refused: named in <see cref="Milestone.Reason"/>.</summary>
    Excluded,
}

/// <summary>One of the 1-3-6 milestones. <see cref="Reason"/> is a sentence a person can read
/// ("not met: first complete screen on day 41, deadline was day 31"). It names no person; its text is made when asked for.</summary>
public readonly record struct Milestone(
    MilestoneState State, DateOnly DeadlineOn, DateOnly? DoneOn, [property: JsonIgnore] Sentence Because)
{
    public Milestone(MilestoneState state, DateOnly deadlineOn, DateOnly? doneOn, string reason)
        : this(state, deadlineOn, doneOn, new Sentence(reason))
    {
    }

    public string Reason => Because.ToString();
}

public enum HearingConclusion { NotEvaluated, InProcess, Normal, NonPermanentLoss, PermanentLoss }

/// <summary>Type and degree of one ear. <paramref name="Permanent"/>: as stated by the audiologist, otherwise by type.</summary>
public readonly record struct EarHearing(EarFinding Finding, LossDegree Degree, bool Permanent);

public enum Laterality { None, Right, Left, Bilateral }

/// <summary>The national survey separates families who were reached but did not come (unresponsive) or could not be reached
/// from those about whom nothing is documented.</summary>
public enum LossState { None, LostToFollowUp, LostToDocumentation }

/// <summary>National survey tabulation lines (CDC Hearing Screening and Follow-up Survey), one per infant and step.</summary>
public enum SurveyCategory
{
    /// <summary>The step does not arise for this infant.</summary>
    NotApplicable,

    /// <summary>Step completed (screened; diagnosed; enrolled).</summary>
    Completed,
    InProcess,
    StraightToDiagnostic,
    Died,
    NonResidentOrMoved,
    Medical,
    Declined,
    TransferredWithoutDocumentation,
    Homebirth,
    NotEligible,
    Adopted,
    Unresponsive,
    UnableToContact,
    Unknown,
    Other,
}

[Flags]
public enum StatusFlags
{
    None = 0,

    /// <summary>NICU over the policy's days and passed with OAE alone: not sufficient, neural loss is missed.</summary>
    OaeOnlyInNicu = 1,

    /// <summary>More valid attempts on an ear in the birth admission than the policy advises.</summary>
    OverScreened = 2,

    /// <summary>First screened before the policy's minimum age in hours.</summary>
    ScreenedEarly = 4,

    /// <summary>Passed, but carries a risk indicator: later evaluation due.</summary>
    UnderSurveillance = 8,

    /// <summary>Rescreen tested only one ear, or the two ears in different sessions.</summary>
    RescreenNotBothEars = 16,

    /// <summary>A facts conflict a person should look at (for instance a test after the reported death).</summary>
    FactsConflict = 32,

    /// <summary>An OAE pass after an ABR refer of that ear: it does not clear the refer.</summary>
    OaeAfterAbrRefer = 64,

    /// <summary>More outpatient rescreens than the policy allows before diagnostic evaluation.</summary>
    RescreenedTooOften = 128,

    /// <summary>Readmitted in the first month with a condition that raises risk, and not screened since.</summary>
    RepeatScreenNeeded = 256,

    /// <summary>Known to be in hospital: not lost, and not written to.</summary>
    Inpatient = 512,

    /// <summary>The result that counts is of an ABR at a post-menstrual age at which it is not reliable yet.</summary>
    AbrBeforeReliableAge = 1024,

    /// <summary>In early intervention on a provisional hearing loss.</summary>
    DiagnosisToBeConfirmed = 2048,

    /// <summary>Born at home, not screened by the deadline, and nobody has been in touch with the family.</summary>
    HomeBirthNotContacted = 4096,
}
