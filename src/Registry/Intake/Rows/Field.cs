using Registry.Records;
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
    ResidenceState,
    Insurance,
    Language,
    RaceEthnicity,
    MaternalEducation,
    ContactEmail,
    ContactPhone,
    EmailConsent,
    PostDischargeProvider,

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
    NextEvaluationOn,
    Evaluator,
    EvaluationPlace,
    BehavioralMethod,
    AirTransducer,
    RightAir,
    LeftAir,
    RightBone,
    LeftBone,
    SoundField,
    RightTympanogramLow,
    RightTympanogramHigh,
    LeftTympanogramLow,
    LeftTympanogramHigh,
    RightEmissions,
    LeftEmissions,
    EmissionsMethod,
    RightAbr,
    LeftAbr,
    RightAbrBone,
    LeftAbrBone,
    AbrScale,
    AbrCorrection,

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
    ContactChannel,
    ContactPerson,
    CallAgainOn,
    ContactNote,

    // readmission, medical delay
    AdmittedOn,
    RaisesRisk,
    FromOn,
    EndedOn,

    // appointment
    Appointment,
    AppointmentOn,
    AppointmentTime,
    AppointmentSite,
    AppointmentPlace,

    // family, care
    StatedOn,
    Relation,
    PersonName,
    PhoneUse,
    OtherPhone,
    OtherPhoneUse,
    Street,
    City,
    PostalCode,
    InterpreterNeeded,
    PreferredChannel,
    PreferredHours,
    HoldsCustody,
    MayBeTold,
    PrimaryCare,
    PrimaryCarePhone,
    PrimaryCareConfirmed,

    /// <summary>What we said about a rejected row: in the file of rejected rows, ignored when it is sent back.</summary>
    Problems,
}

/// <summary>What may stand in a column.</summary>
public static class FieldValues
{
    private static readonly HashSet<Field> Personal =
    [
        Field.RecordNumber, Field.CardId, Field.PriorRecordNumber, Field.BirthDate, Field.BirthTime, Field.MotherGivenName,
        Field.MotherFamilyName, Field.MotherBirthDate, Field.InfantGivenName, Field.InfantFamilyName, Field.ContactEmail,
        Field.ContactPhone, Field.ContactNote, Field.PostDischargeProvider, Field.PersonName, Field.OtherPhone, Field.Street, Field.City,
        Field.PostalCode, Field.PreferredHours, Field.PrimaryCare, Field.PrimaryCarePhone,
    ];

    /// <summary>They say who the row is about or how to reach the family: no list shows them.</summary>
    public static bool ArePersonal(Field field) => Personal.Contains(field);

    /// <summary>The codes a column may hold; empty when it is not coded.</summary>
    public static IEnumerable<string> CodesOf(Field field) => field switch
    {
        Field.Kind => Codes.All<RowKind>(),
        Field.Action => Codes.All<RowAction>(),
        Field.Sex => Codes.All<Sex>(),
        Field.BirthPlace => Codes.All<BirthPlace>(),
        Field.Ear => Codes.All<Ear>(),
        Field.Outcome => Codes.All<ScreeningOutcome>(),
        Field.Method => Codes.All<ScreeningMethod>(),
        Field.Reason => Codes.All<ScreeningReason>().Where(c => c != Codes.Of(ScreeningReason.None)),
        Field.Stage => Codes.All<ScreeningStage>(),
        Field.RightFinding or Field.LeftFinding => Codes.All<EarFinding>(),
        Field.RightDegree or Field.LeftDegree => Codes.All<LossDegree>(),
        Field.BehavioralMethod => Codes.All<BehavioralMethod>(),
        Field.AirTransducer => Codes.All<AirTransducer>(),
        Field.RightTympanogramLow or Field.LeftTympanogramLow => Of(Tympanogram.TypeA, Tympanogram.TypeAs, Tympanogram.TypeAd,
            Tympanogram.TypeB, Tympanogram.TypeC, Tympanogram.NoValidResult),
        Field.RightTympanogramHigh or Field.LeftTympanogramHigh => Of(Tympanogram.Peaked, Tympanogram.Flat, Tympanogram.NoValidResult),
        Field.RightEmissions or Field.LeftEmissions => Codes.All<Emissions>(),
        Field.EmissionsMethod => Of(ScreeningMethod.Oae, ScreeningMethod.Teoae, ScreeningMethod.Dpoae),
        Field.AbrScale => Codes.All<AbrScale>(),
        Field.Event => Codes.All<InterventionKind>(),
        Field.Move => Codes.All<MoveKind>(),
        Field.Step => Codes.All<PathStep>(),
        Field.Indicator => Codes.All<RiskIndicatorKind>(),
        Field.ContactOutcome => Codes.All<ContactOutcome>(),
        Field.ContactChannel => Codes.All<ContactChannel>(),
        Field.ContactPerson => Codes.All<ContactPerson>(),
        Field.Appointment => Codes.All<AppointmentEvent>(),
        Field.Relation => Codes.All<FamilyRelation>(),
        Field.PhoneUse or Field.OtherPhoneUse => Codes.All<PhoneUse>(),
        Field.PreferredChannel => Codes.All<ContactChannel>(),
        Field.EmailConsent or Field.Provisional or Field.Permanent or Field.RaisesRisk or Field.InterpreterNeeded or Field.HoldsCustody
            or Field.MayBeTold or Field.PrimaryCareConfirmed => ["true", "false"],
        _ => [],
    };

    private static IEnumerable<string> Of<T>(params T[] some) where T : struct, Enum => some.Select(Codes.Of);
}
