using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>Every column a submission may have. The column's name is the member's code (<see cref="Codes"/>):
/// <c>RecordNumber</c> is <c>record_number</c>. docs/intake/csv.md says what each holds.</summary>
public enum Field
{
    Kind,
    Action,

    // who
    RecordNumber,
    CardId,
    PriorRecordNumber,
    BirthDate,
    Sex,
    BirthOrder,
    MotherGivenName,
    MotherFamilyName,
    MotherBirthDate,

    // birth
    BirthTime,
    BirthPlace,

    /// <summary>Code of the site of birth: stated by a vital-records office only, everybody else reports its own births.</summary>
    BirthSite,
    Plurality,
    GestationWeeks,
    BirthWeightG,
    NicuAdmittedOn,
    NicuDischargedOn,
    DischargedOn,
    InfantGivenName,
    InfantFamilyName,
    County,
    Insurance,
    Language,
    RaceEthnicity,
    MaternalEducation,
    ContactEmail,
    ContactPhone,
    EmailConsent,

    // screening
    Ear,
    Outcome,
    Method,
    Reason,
    PerformedAt,
    Stage,
    Instrument,
    Probe,
    Screener,
    Stimulus,
    DurationSeconds,
    ArtefactsRejected,
    EarCanalVolumeMl,
    AmbientNoiseDb,
    Bands,

    // diagnosis
    EvaluatedOn,
    RightFinding,
    LeftFinding,
    RightDegree,
    LeftDegree,
    Provisional,
    Permanent,

    // intervention
    Event,
    HappenedOn,

    // death, move, transfer
    DiedOn,
    Move,
    MovedOn,
    ToSite,
    TransferredOn,

    // refusal, risk, contact
    Step,
    RefusedOn,
    RevokedOn,
    RefusedBy,
    Indicator,
    NotedOn,
    AttemptedOn,
    ContactOutcome,

    // readmission, medical delay
    AdmittedOn,
    RaisesRisk,
    FromOn,
    EndedOn,

    /// <summary>What we said about a rejected row: in the file of rejected rows, ignored when it is sent back.</summary>
    Problems,
}
