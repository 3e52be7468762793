using Registry.Rules.Facts;
using Registry.Rules.Surveillance;

namespace Registry.Rules;

/// <summary>Calendar months or whole days after birth.</summary>
public enum DeadlineUnit { Months, Days }

/// <summary>
/// A deadline counted from a date. <paramref name="Inclusive"/>: the boundary day itself is in time ("no later than",
/// JCIH) or not ("before", CDC). A month deadline on a day the target month lacks falls on its last day
/// (born 31 January, one month: 28 or 29 February).
/// </summary>
public readonly record struct Deadline(int Amount, DeadlineUnit Unit, bool Inclusive = true)
{
    /// <summary>The last day that is in time.</summary>
    public DateOnly LastDay(DateOnly from)
    {
        var boundary = Unit == DeadlineUnit.Months ? from.AddMonths(Amount) : from.AddDays(Amount);
        return Inclusive ? boundary : boundary.AddDays(-1);
    }
}

/// <summary>
/// Every threshold and choice a program may make, as one versioned, effective-dated document. Published constants that a
/// program may not choose live beside the rule that uses them, with their citation. The summary of each field ends with its
/// source and mark: F found in the source, M from memory and unverified, P common practice without a source.
/// </summary>
public sealed partial record Policy
{
    /// <summary>Name of this version, printed on every page and report.</summary>
    public required string Version { get; init; }
    public required DateOnly EffectiveFrom { get; init; }

    /// <summary>Where the choices come from, in words.</summary>
    public required string Source { get; init; }

    // The three milestones.

    /// <summary>Both ears screened by then. JCIH 2007 and 2019, no later than 1 month (F); CDC publishes "before 1 month" (F).</summary>
    public Deadline ScreeningDeadline { get; init; } = new(1, DeadlineUnit.Months);

    /// <summary>Diagnosis by then. JCIH 2007, no later than 3 months (F).</summary>
    public Deadline DiagnosisDeadline { get; init; } = new(3, DeadlineUnit.Months);

    /// <summary>Early intervention by then. JCIH 2007, no later than 6 months (F).</summary>
    public Deadline InterventionDeadline { get; init; } = new(6, DeadlineUnit.Months);

    /// <summary>Count the three deadlines from the expected date of birth (40 weeks) of infants born before 37 weeks.
    /// Off: chronological age (P).</summary>
    public bool CorrectForPrematurity { get; init; }

    // Screening.

    /// <summary>Use the reported stage of a test; otherwise, and when it is unstated, it follows from dates (P).</summary>
    public bool TrustReportedStage { get; init; } = true;

    /// <summary>With no discharge date, tests up to this age in hours belong to the birth admission (P).</summary>
    public int BirthAdmissionHours { get; init; } = 96;

    /// <summary>Tests at one site and stage within this many hours of the first one are one session (P).</summary>
    public int SessionHours { get; init; } = 4;

    /// <summary>In the initial screen the two ears may get their results in different sessions (P).</summary>
    public bool CombineEarsInInitialScreen { get; init; } = true;

    /// <summary>In a rescreen the two ears may get their results in different sessions. JCIH 2019: both ears in one session (F).</summary>
    public bool CombineEarsAcrossRescreens { get; init; }

    /// <summary>An OAE pass clears an ABR refer of the same ear. JCIH 2007: it does not (F, quoted by Kansas's
    /// rescreening page).</summary>
    public bool OaeMayClearAbrRefer { get; init; }

    /// <summary>Valid attempts per ear and technology in the birth admission before it is over-screening. JCIH 2019 (M); a state
    /// program asks for at most two per ear (Kansas, "When and why acceptable to rescreen", F).</summary>
    public int MaxValidAttempts { get; init; } = 2;

    /// <summary>A valid OAE test at fewer hours of age is early; passes rise from 54 % before 24 hours to 99 % after 48
    /// (Am J Perinatol 2025, 10.1055/a-2675-1768, F); the threshold itself is ours (P).</summary>
    public int EarliestOaeHours { get; init; } = 24;

    /// <summary>A valid ABR test at fewer hours of age is early; 97 % pass at a mean of 15 hours
    /// (Semin Hear 1999;20:291, F); a state program's
    /// guideline is no sooner than 12 hours (Pennsylvania, birth facilities, F).</summary>
    public int EarliestAbrHours { get; init; } = 12;

    /// <summary>More days than this in the NICU need ABR-based screening. JCIH 2007 and 2019 (F).</summary>
    public int NicuDays { get; init; } = 5;

    /// <summary>A refer after more than <see cref="NicuDays"/> goes to audiology without a rescreen. JCIH 2007 (F).</summary>
    public bool NicuReferToAudiology { get; init; } = true;

    /// <summary>A rescreen is offered until then, later the infant goes to diagnostic evaluation. JCIH 2019, before 1 month (F).</summary>
    public Deadline RescreenUntil { get; init; } = new(1, DeadlineUnit.Months);

    /// <summary>Complete outpatient rescreens before diagnostic evaluation. JCIH 2019, a single one (F, secondary).</summary>
    public int MaxRescreens { get; init; } = 1;

    /// <summary>A readmission up to then, with a condition that raises risk, needs a repeat screen. JCIH 2007, first month (F).</summary>
    public Deadline ReadmissionUntil { get; init; } = new(1, DeadlineUnit.Months);

    // Diagnosis and intervention.

    /// <summary>An ear that passed screening also needs a diagnostic finding before the evaluation is complete (P).</summary>
    public bool EvaluateBothEars { get; init; } = true;

    /// <summary>Days after its last visit during which an unfinished evaluation counts as in process (P).</summary>
    public int DiagnosisInProcessDays { get; init; } = 90;

    /// <summary>Fitting, counted from confirmation, where the family chooses amplification. JCIH 2007, 1 month (F).</summary>
    public Deadline AmplificationDeadline { get; init; } = new(1, DeadlineUnit.Months);

    /// <summary>A service plan meeting counts as enrolment (P).</summary>
    public bool ServicePlanCountsAsEnrolled { get; init; } = true;

    // Loss.

    /// <summary>Days after a missed deadline before a family counts as lost (P).</summary>
    public int LossGraceDays { get; init; } = 30;

    /// <summary>Documented attempts to reach the family that make a loss one to follow-up rather than to documentation (P).</summary>
    public int ContactAttemptsForLoss { get; init; } = 2;

    /// <summary>Days after an appointment was made during which the family is not counted as lost (P).</summary>
    public int AppointmentHoldDays { get; init; } = 30;

    /// <summary>When each risk indicator asks for later evaluation. JCIH 2019 table 1 (indicators F, times M).</summary>
    public SurveillanceTime[] Surveillance
    {
        get;
        init => field = [.. value.OrderBy(t => t.Kind)];
    } = SurveillanceTime.Jcih2019;

    /// <summary>The policy a new registry starts with: JCIH 2019's "no later than" in calendar months.</summary>
    public static Policy Default { get; } = new()
    {
        Version = "2026-1",
        EffectiveFrom = new DateOnly(2020, 1, 1),
        Source = "JCIH Year 2019 Position Statement (JEHDI 4(2):1-44); JCIH 2007 (Pediatrics 120:898)",
    };

    /// <summary>For programs that meet 1-3-6 and strive for 1-2-3 (JCIH 2019, F).</summary>
    public static Policy OneTwoThree { get; } = Default with
    {
        Version = "2026-1 (1-2-3)",
        Source = "JCIH Year 2019 Position Statement (JEHDI 4(2):1-44): programs that meet 1-3-6 strive for 1-2-3",
        DiagnosisDeadline = new(2, DeadlineUnit.Months),
        InterventionDeadline = new(3, DeadlineUnit.Months),
    };

    /// <summary>The national survey's boundary: before 1, 3 and 6 months (CDC, F).</summary>
    public static Policy CdcStrict { get; } = Default with
    {
        Version = "2026-1 (before 1-3-6)",
        Source = "CDC Hearing Screening and Follow-up Survey: before 1, before 3 and before 6 months",
        ScreeningDeadline = new(1, DeadlineUnit.Months, Inclusive: false),
        DiagnosisDeadline = new(3, DeadlineUnit.Months, Inclusive: false),
        InterventionDeadline = new(6, DeadlineUnit.Months, Inclusive: false),
        RescreenUntil = new(1, DeadlineUnit.Months, Inclusive: false),
    };

    /// <summary>The date the three milestones are counted from.</summary>
    internal DateOnly CountFrom(in Birth birth) =>
        CorrectForPrematurity && birth.GestationWeeks is { } weeks and < 37 ? birth.Date.AddDays(7 * (40 - weeks)) : birth.Date;
}
