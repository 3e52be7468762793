namespace Registry.Rules.Facts;

public enum InterventionKind
{
    /// <summary>Referred to Part C early intervention.</summary>
    Referred,
    Eligible,
    NotEligible,
    Enrolled,

    /// <summary>Individualized family service plan meeting held.</summary>
    ServicePlan,
    AmplificationFitted,

    /// <summary>Early intervention after enrolment ended.</summary>
    Ended,

    /// <summary>The family chose no amplification (for now); a later fitting overrides it.</summary>
    AmplificationDeclined,

    /// <summary>The early-intervention program received the referral: the 45 days run from here.</summary>
    ReferralReceived,

    /// <summary>Exceptional family circumstances, documented: the 45 days stand still (34 CFR 303.310(b)(1)).</summary>
    FamilyDelay,

    /// <summary>No consent yet despite documented, repeated attempts: the 45 days stand still (34 CFR 303.310(b)(2)).</summary>
    ConsentAwaited,

    /// <summary>The circumstances are over, or consent was given: the 45 days run on.</summary>
    DelayEnded,

    /// <summary>The family chose amplification.</summary>
    AmplificationElected,

    /// <summary>A targeted test for congenital CMV was taken, whatever it showed; a positive one is a risk indicator as well.</summary>
    CmvTested,

    /// <summary>Services of early intervention by others than Part C began: not enrolled in it, and not lost.</summary>
    OtherServices,

    /// <summary>The child is only monitored, without services: not enrolled, and not lost.</summary>
    MonitoringOnly,

    /// <summary>The child's development was assessed.</summary>
    DevelopmentalAssessment,
}

public readonly record struct InterventionEvent(InterventionKind Kind, DateOnly HappenedOn);

/// <summary>Left the region, was adopted out of the program's reach, or came back.</summary>
public enum MoveKind
{
    OutOfRegion,
    Adopted,
    NonResident,
    Returned,

    /// <summary>The program of the state the child lives in was told, and took over: no move itself.</summary>
    HandedOff,

    /// <summary>Adopted by a family of the region: care goes on under the new family.</summary>
    AdoptedWithinRegion,
}

public readonly record struct Move(MoveKind Kind, DateOnly MovedOn);
