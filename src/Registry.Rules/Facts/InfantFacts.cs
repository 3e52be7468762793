namespace Registry.Rules.Facts;

/// <summary>
/// Everything the registry knows about one infant, as known at one moment. Facts are what was reported, never what
/// was concluded; the reader that fills this has already left out facts recorded later than the "known at" moment
/// and facts that were corrected or retracted by then. Dates are local calendar dates of the program's region.
/// </summary>
/// <remarks>Arrays are in no particular order and may be empty, never null.</remarks>
public sealed record InfantFacts
{
    public required Birth Birth { get; init; }
    public ScreeningTest[] Tests { get; init; } = [];
    public DiagnosticEvaluation[] Evaluations { get; init; } = [];
    public InterventionEvent[] Interventions { get; init; } = [];
    public DateOnly? DiedOn { get; init; }
    public Move[] Moves { get; init; } = [];
    public Transfer[] Transfers { get; init; } = [];
    public Refusal[] Refusals { get; init; } = [];
    public RiskIndicator[] RiskIndicators { get; init; } = [];
    public ContactAttempt[] ContactAttempts { get; init; } = [];
    public Readmission[] Readmissions { get; init; } = [];
    public MedicalDelay[] MedicalDelays { get; init; } = [];
    public Appointment[] Appointments { get; init; } = [];

    /// <summary>Every fact under the name of its kind, for whatever must miss none.</summary>
    public IEnumerable<(string Kind, Array Facts)> ByKind() =>
    [
        ("birth", new[] { Birth }),
        ("death", DiedOn is { } died ? new[] { died } : []),
        ("test", Tests),
        ("evaluation", Evaluations),
        ("intervention", Interventions),
        ("move", Moves),
        ("transfer", Transfers),
        ("refusal", Refusals),
        ("risk", RiskIndicators),
        ("contact", ContactAttempts),
        ("readmission", Readmissions),
        ("medical_delay", MedicalDelays),
        ("appointment", Appointments),
    ];
}

/// <summary>The birth itself. <paramref name="Time"/> is null when only the date was reported.</summary>
public readonly record struct Birth(DateOnly Date, TimeOnly? Time)
{
    public BirthPlace Place { get; init; }

    /// <summary>The site that reported the birth.</summary>
    public Guid? SiteId { get; init; }

    public int? GestationWeeks { get; init; }
    public DateOnly? NicuAdmittedOn { get; init; }
    public DateOnly? NicuDischargedOn { get; init; }

    /// <summary>Discharge from the birth admission.</summary>
    public DateOnly? DischargedOn { get; init; }
}

/// <summary>A military hospital is a hospital; the national survey asks for its births by themselves.</summary>
public enum BirthPlace { Hospital, BirthCenter, Home, OutOfRegion, MilitaryHospital }

public enum Sex { Unknown, Female, Male }

public enum Ear { Right, Left }

/// <summary>Otoacoustic emissions (transient-evoked, distortion-product, or unspecified) and auditory brainstem response.</summary>
public enum ScreeningMethod { Unknown, Oae, Teoae, Dpoae, Aabr, Abr }

/// <summary>What one test of one ear gave. Only <see cref="Pass"/> and <see cref="Refer"/> are valid results.</summary>
public enum ScreeningOutcome { Pass, Refer, NoValidResult, NotPerformed }

/// <summary>Why a test gave no valid result, or was not performed.</summary>
public enum ScreeningReason
{
    None,

    // no valid result
    Noise,
    NoSeal,
    InfantUnsettled,
    EquipmentFault,

    // not performed
    Declined,
    MedicalExclusion,
    DischargedBeforeScreen,
    Transferred,
    EquipmentUnavailable,
    StraightToDiagnostic,

    // either
    Other,
}

/// <summary>Reported stage of a screen; <see cref="Unstated"/> lets the rules derive it from the dates.</summary>
public enum ScreeningStage { Unstated, BirthAdmission, OutpatientRescreen }

/// <summary>One test of one ear.</summary>
public readonly record struct ScreeningTest(Ear Ear, ScreeningOutcome Outcome, DateTime PerformedAt)
{
    public ScreeningMethod Method { get; init; }
    public ScreeningReason Reason { get; init; }
    public ScreeningStage Stage { get; init; }
    public Guid? SiteId { get; init; }
}

/// <summary>What a diagnostic evaluation found in one ear.</summary>
public enum EarFinding
{
    NotEvaluated,
    Normal,
    Conductive,
    Sensorineural,
    Mixed,
    AuditoryNeuropathy,

    /// <summary>A loss whose type is not determined.</summary>
    LossUndetermined,

    /// <summary>Evaluated, but no conclusion could be drawn.</summary>
    Inconclusive,
}

/// <summary>Degree in dB HL: slight 16-25, mild 26-40, moderate 41-55, moderately severe 56-70, severe 71-90, profound &gt; 90
/// (Genetics in Medicine 2019;21:2614).</summary>
public enum LossDegree { NotStated, Slight, Mild, Moderate, ModeratelySevere, Severe, Profound }

/// <summary>One diagnostic evaluation by an audiologist, both ears.</summary>
public readonly record struct DiagnosticEvaluation(DateOnly EvaluatedOn, EarFinding Right, EarFinding Left)
{
    public LossDegree RightDegree { get; init; }
    public LossDegree LeftDegree { get; init; }

    /// <summary>A provisional conclusion keeps the evaluation step open.</summary>
    public bool Provisional { get; init; }

    /// <summary>The audiologist expects the loss to be permanent; null when not stated
    /// (then sensorineural, mixed, neuropathy count as permanent, and conductive stays open until seen again).</summary>
    public bool? Permanent { get; init; }

    /// <summary>The day the audiologist wants to see the child again; null when not stated.</summary>
    public DateOnly? NextOn { get; init; }
}

/// <summary>Care passed from one site to another, which then owns the next step.</summary>
public readonly record struct Transfer(DateOnly TransferredOn, Guid ToSiteId);

/// <summary>A step of the path a family can refuse or that can be lost.</summary>
public enum PathStep { Screening, Diagnosis, Intervention }

/// <summary>A refusal of one step; revocable.</summary>
public readonly record struct Refusal(PathStep Step, DateOnly RefusedOn)
{
    public DateOnly? RevokedOn { get; init; }
}

/// <summary>Risk indicators of the Joint Committee on Infant Hearing position statement 2019, table 1.</summary>
public enum RiskIndicatorKind
{
    FamilyHistory,
    NicuOverFiveDays,
    ExchangeTransfusion,
    Aminoglycosides,
    Asphyxia,
    Ecmo,
    InUteroInfection,
    CongenitalCmv,
    ZikaLaboratoryAndClinical,
    ZikaLaboratoryOnly,
    Craniofacial,
    Syndrome,
    Meningitis,
    HeadTraumaOrChemotherapy,
    CaregiverConcern,

    /// <summary>An in-utero infection other than those the table names.</summary>
    OtherInUteroInfection,

    /// <summary>Culture-positive sepsis.</summary>
    Sepsis,
    Mastoiditis,

    /// <summary>Ototoxic drugs in general: which, or for how long, was not said.</summary>
    OtotoxicMedication,
    NeurodegenerativeDisorder,

    /// <summary>Physical findings associated with hearing loss, not further described.</summary>
    PhysicalFindings,
}

/// <summary>A risk indicator and the day it was present (birth date for those present at birth).</summary>
public readonly record struct RiskIndicator(RiskIndicatorKind Kind, DateOnly NotedOn);

public enum ContactOutcome { Reached, NoResponse, UnableToContact, AppointmentMade }

/// <summary>How a family was reached for.</summary>
public enum ContactChannel { Phone, TextMessage, Email, Mail, HomeVisit, InPerson }

/// <summary>Who answered.</summary>
public enum ContactPerson { Mother, OtherParent, Guardian, Relative, PrimaryCare, Other }

/// <summary>One attempt to reach the family about a step.</summary>
public readonly record struct ContactAttempt(PathStep Step, DateOnly AttemptedOn, ContactOutcome Outcome)
{
    /// <summary>The day to call again, as agreed or set; null when none was.</summary>
    public DateOnly? CallAgainOn { get; init; }
}

/// <summary>What became of an appointment. One that is moved is closed on its old day and made on its new one.</summary>
public enum AppointmentEvent { Made, Moved, Kept, NoShow, Cancelled }

/// <summary>An appointment for a step, known by its step and day: what became of it, and when.</summary>
public readonly record struct Appointment(PathStep Step, DateOnly On, AppointmentEvent Kind, DateOnly HappenedOn);

/// <summary>The infant was admitted again after the birth admission. <paramref name="RaisesRisk"/>: with a condition that
/// raises the risk of hearing loss (for instance hyperbilirubinemia needing exchange transfusion, culture-positive sepsis).</summary>
public readonly record struct Readmission(DateOnly AdmittedOn, bool RaisesRisk)
{
    public DateOnly? DischargedOn { get; init; }
}

/// <summary>A documented medical reason why a step cannot be done for now; without an end it lasts.</summary>
public readonly record struct MedicalDelay(PathStep Step, DateOnly FromOn)
{
    public DateOnly? EndedOn { get; init; }
}
