using System.Text.Json.Serialization;
using Registry.Rules.Screening;
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
/// program may not choose live beside the rule that uses them, with their citation. Each field says what it means and where
/// its default comes from in its <see cref="ChoiceAttribute"/>, which the policy page shows (<see cref="Choices"/>).
/// </summary>
public sealed partial record Policy
{
    /// <summary>Name of this version, printed on every page and report.</summary>
    public required string Version { get; init; }
    public required DateOnly EffectiveFrom { get; init; }

    /// <summary>Where the choices come from, in words.</summary>
    public required string Source { get; init; }

    /// <summary>The clock of the region: local times on two sides of a change of clocks are not as far apart as they read. Set where the
    /// program runs, and no part of the document.</summary>
    [JsonIgnore] public TimeZoneInfo Zone { get; init; } = TimeZoneInfo.Utc;

    // The three milestones.

    [Choice("Screened by", "Last day on which a complete screen of both ears is in time, counted from birth.",
        "JCIH 2007 and 2019: no later than 1 month. The CDC's survey counts \"before 1 month\".", SourceMark.Found)]
    public Deadline ScreeningDeadline { get; init; } = new(1, DeadlineUnit.Months);

    [Choice("Diagnosed by", "Last day on which a complete diagnosis is in time, counted from birth.",
        "JCIH 2007 and 2019: no later than 3 months. The CDC's survey counts \"before 3 months\".", SourceMark.Found)]
    public Deadline DiagnosisDeadline { get; init; } = new(3, DeadlineUnit.Months);

    [Choice("In early intervention by", "Last day on which enrollment is in time, counted from birth.",
        "JCIH 2007 and 2019: no later than 6 months. The CDC's survey counts \"before 6 months\".", SourceMark.Found)]
    public Deadline InterventionDeadline { get; init; } = new(6, DeadlineUnit.Months);

    [Choice("Correct for prematurity",
        "Count the three deadlines from the expected date of birth (40 weeks) of infants born before 37 weeks.",
        "Off: the published measures use chronological age.", SourceMark.CommonPractice)]
    public bool CorrectForPrematurity { get; init; }

    [Choice("Retention, years", "Years after birth for which a person's values are kept; afterwards people decide about erasing them.",
        "", SourceMark.CommonPractice)]
    public int RetentionYears { get; init; } = 25;

    // Screening.

    [Choice("Trust the reported stage",
        "Use the stage a site reports for a test; where it is unstated, or when this is off, it follows from the dates.",
        "", SourceMark.CommonPractice)]
    public bool TrustReportedStage { get; init; } = true;

    [Choice("Birth admission, hours", "With no discharge date, tests up to this age in hours belong to the birth admission.", "",
        SourceMark.CommonPractice)]
    public int BirthAdmissionHours { get; init; } = 96;

    [Choice("Session, hours", "Tests at one site and stage within this many hours of the first one are one session.", "",
        SourceMark.CommonPractice)]
    public int SessionHours { get; init; } = 4;

    [Choice("Sitting, minutes",
        "A test this soon after the one before it at the same site belongs to its session, however long that lasts.",
        "", SourceMark.CommonPractice)]
    public int SittingMinutes { get; init; } = 30;

    [Choice("Combine ears in the initial screen", "The two ears may get their results in different sessions of the initial screen.", "",
        SourceMark.CommonPractice)]
    public bool CombineEarsInInitialScreen { get; init; } = true;

    [Choice("Combine ears across rescreens", "The two ears may pass in different rescreens.",
        "Off: JCIH 2019 asks for a valid rescreen of both ears in one session (secondary).", SourceMark.Found)]
    public bool CombineEarsAcrossRescreens { get; init; }

    [Choice("OAE may clear an ABR refer", "An OAE pass replaces an ABR refer of the same ear.",
        "Off: JCIH 2007, as quoted by the Kansas program's page on rescreening.", SourceMark.Found)]
    public bool OaeMayClearAbrRefer { get; init; }

    [Choice("Valid attempts", "More valid attempts per ear and technology in the birth admission are over-screening.",
        "A state program asks for at most two attempts per ear (Kansas, when and why acceptable to rescreen).", SourceMark.Found)]
    public int MaxValidAttempts { get; init; } = 2;

    [Choice("Earliest OAE, hours", "A first valid OAE test at fewer hours of age is called early.",
        "OAE passes rise from 54 % before 24 hours to 99 % after 48 (Am J Perinatol 2025, 10.1055/a-2675-1768); the threshold is ours.",
        SourceMark.CommonPractice)]
    public int EarliestOaeHours { get; init; } = 24;

    [Choice("Earliest ABR, hours", "A first valid ABR test at fewer hours of age is called early.",
        "A state program asks for no sooner than 12 hours (Pennsylvania, birth facilities); 97 % pass at a mean of 15 hours "
            + "(Semin Hear 1999;20:291).", SourceMark.Found)]
    public int EarliestAbrHours { get; init; } = 12;

    [Choice("NICU, days", "More days than this in the NICU need ABR-based screening.", "JCIH 2007 and 2019.", SourceMark.Found)]
    public int NicuDays { get; init; } = 5;

    [Choice("NICU refer goes to audiology", "A refer after a long NICU stay goes to diagnostic evaluation without a rescreen.",
        "JCIH 2007.", SourceMark.Found)]
    public bool NicuReferToAudiology { get; init; } = true;

    [Choice("Rescreen offered until", "After that the infant who referred goes to diagnostic evaluation.",
        "JCIH 2019: rescreen before 1 month (secondary).", SourceMark.Found)]
    public Deadline RescreenUntil { get; init; } = new(1, DeadlineUnit.Months);

    [Choice("Rescreens", "Complete outpatient rescreens before diagnostic evaluation.", "JCIH 2019: a single one (secondary).",
        SourceMark.Found)]
    public int MaxRescreens { get; init; } = 1;

    [Choice("A further rescreen may clear", "A rescreen after those offered replaces a failed one.",
        "Off: JCIH 2019 asks for a single rescreen (secondary); after it, audiology.", SourceMark.Found)]
    public bool FurtherRescreenMayClear { get; init; }

    [Choice("ABR reliable from, weeks", "An ABR-based screen at a younger post-menstrual age is flagged, and said beside the milestone.",
        "Sources give 32 to 34 weeks of post-menstrual age.", SourceMark.Found)]
    public int AbrReliableWeeks { get; init; } = 34;

    [Choice("Targeted CMV test", "An infant who referred is tested for congenital CMV.",
        "The law of several states asks for it; off until the program's does.", SourceMark.Found)]
    public bool CmvTestAfterRefer { get; init; }

    [Choice("CMV test within, days", "Last day for the sample of a targeted CMV test.",
        "21 days, in the law of several states.", SourceMark.Found)]
    public int CmvTestDays { get; init; } = 21;

    [Choice("CMV test counts from birth", "The days are counted from birth; otherwise from the refer.",
        "A sample after three weeks of age cannot tell an infection before birth from one after it (from memory).", SourceMark.FromMemory)]
    public bool CmvTestFromBirth { get; init; } = true;

    [Choice("Readmission until", "A readmission up to then, with a condition that raises risk, needs a repeat screen.",
        "JCIH 2007: in the first month.", SourceMark.Found)]
    public Deadline ReadmissionUntil { get; init; } = new(1, DeadlineUnit.Months);

    [Choice("Pass criteria",
        "What a site says its instrument needs for a pass. A reported outcome is compared with it and never changed: "
            + "a difference is a note.",
        "None is stated at first: instruments differ, and no criterion is published for all of them.", SourceMark.CommonPractice)]
    public PassCriterion[] PassCriteria { get; init; } = [];

    // Diagnosis and intervention.

    [Choice("Evaluate both ears", "An ear that passed screening also needs a diagnostic finding before the diagnosis is complete.", "",
        SourceMark.CommonPractice)]
    public bool EvaluateBothEars { get; init; } = true;

    [Choice("Evaluation in process, days", "Days after its last visit during which an unfinished evaluation counts as in process.", "",
        SourceMark.CommonPractice)]
    public int DiagnosisInProcessDays { get; init; } = 90;

    [Choice("Term, weeks", "A final diagnosis at a younger post-menstrual age is a contradiction to look at.",
        "Term begins at 37 completed weeks (from memory).", SourceMark.FromMemory)]
    public int TermWeeks { get; init; } = 37;

    [Choice("Middle ear seen again within",
        "A conductive hearing loss not said to be permanent is evaluated again, after treatment of the middle ear, within this time.",
        "That it must be: of infants who failed the screen with effusion 56 % never got a definitive result "
            + "and 11 % had a permanent hearing "
            + "loss (10.1002/ohn.306; found). The time is from memory: effusion is watched for three months.", SourceMark.FromMemory)]
    public Deadline MiddleEarReevaluation { get; init; } = new(3, DeadlineUnit.Months);

    [Choice("Monitoring, months", "A child with permanent hearing loss is evaluated again this long after each evaluation.",
        "From memory: every six months.", SourceMark.FromMemory)]
    public int MonitoringMonths { get; init; } = 6;

    [Choice("Monitoring until, years",
        "Age at which the table's monitoring of a permanent hearing loss ends; the audiologist's own date stands.",
        "From memory: to age three.", SourceMark.FromMemory)]
    public int MonitoringUntilYears { get; init; } = 3;

    [Choice("Fitted within", "Where the family chooses amplification, counted from confirmation.", "JCIH 2007: 1 month.", SourceMark.Found)]
    public Deadline AmplificationDeadline { get; init; } = new(1, DeadlineUnit.Months);

    [Choice("IFSP meeting counts as enrolled", "A meeting on the service plan (IFSP) counts as enrollment in early intervention.", "",
        SourceMark.CommonPractice)]
    public bool ServicePlanCountsAsEnrolled { get; init; } = true;

    [Choice("Development assessed by, months",
        "Age by which the development of a child with permanent hearing loss is first assessed; asked until monitoring ends.",
        "JCIH 2007: by 12 months of age (from memory).", SourceMark.FromMemory)]
    public int DevelopmentalAssessmentMonths { get; init; } = 12;

    [Choice("Part C until, years", "From this birthday nothing of Part C is asked; Part B, the schools' program, follows.",
        "Part C serves infants and toddlers under three (34 CFR 303.21).", SourceMark.Found)]
    public int PartCUntilYears { get; init; } = 3;

    // Where the infant is.

    [Choice("Who discharges home is responsible",
        "A transfer makes the receiving site responsible for the next step; otherwise the birth site stays so.",
        "A state's published rule: the facility that discharges home is responsible for the screen.", SourceMark.Found)]
    public bool WhoDischargesIsResponsible { get; init; } = true;

    [Choice("Stay without an end, days",
        "So long an infant is believed to be in hospital when the end of a stay was never reported, so that nobody is forgotten.", "",
        SourceMark.CommonPractice)]
    public int InpatientDays { get; init; } = 120;

    [Choice("Hand-off, days",
        "Days after a move out of the region, or the birth of a non-resident, to tell the program of the other state.",
        "", SourceMark.CommonPractice)]
    public int HandOffDays { get; init; } = 30;

    // Loss.

    [Choice("Grace, days", "Days after a missed deadline before a family counts as lost to follow-up or documentation.", "",
        SourceMark.CommonPractice)]
    public int LossGraceDays { get; init; } = 30;

    [Choice("Attempts to reach the family", "Documented attempts that make a family lost to follow-up rather than to documentation.", "",
        SourceMark.CommonPractice)]
    public int ContactAttemptsForLoss { get; init; } = 2;

    [Choice("Appointment, days",
        "Days after an appointment was made during which the family does not count as lost to follow-up or documentation.", "",
        SourceMark.CommonPractice)]
    public int AppointmentHoldDays { get; init; } = 30;

    [Choice("Surveillance", "When each risk indicator asks for a later evaluation.",
        "JCIH 2019 table 1: the indicators found, the times from memory.", SourceMark.FromMemory)]
    public SurveillanceTime[] Surveillance
    {
        get;
        init => field =
        [
            .. value.Concat(SurveillanceTime.Jcih2019.Where(d => value.All(t => t.Kind != d.Kind))).OrderBy(t => t.Kind),
        ];
    } = SurveillanceTime.Jcih2019;
}
