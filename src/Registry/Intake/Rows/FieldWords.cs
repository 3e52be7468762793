using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Rows;

/// <summary>What a column is called where a person reads or types it.</summary>
public static class FieldWords
{
    public static string Of(Field field) => field switch
    {
        Field.CardId => "Blood-spot card",
        Field.BirthOrder => "Birth order (of twins or more)",
        Field.Plurality => "How many were born",
        Field.GestationWeeks => "Gestation, completed weeks",
        Field.BirthWeightG => "Birth weight, grams",
        Field.NicuAdmittedOn => "NICU admission",
        Field.NicuDischargedOn => "NICU discharge",
        Field.DischargedOn => "Discharge",
        Field.InfantGivenName => "Child's given name",
        Field.InfantFamilyName => "Child's family name",
        Field.MotherGivenName => "Mother's given name",
        Field.MotherFamilyName => "Mother's family name",
        Field.MotherBirthDate => "Mother's birth date",
        Field.EmailConsent => "The family agrees to e-mail",
        Field.ContactEmail => "E-mail of the family",
        Field.ContactPhone => "Phone of the family",
        Field.PostDischargeProvider => "Provider after discharge",
        Field.ResidenceState => "State of residence",
        Field.RaceEthnicity => "Race or ethnicity",
        Field.MaternalEducation => "Mother's education",
        Field.RightFinding => "Right ear: finding",
        Field.LeftFinding => "Left ear: finding",
        Field.RightDegree => "Right ear: degree",
        Field.LeftDegree => "Left ear: degree",
        Field.EvaluatedOn => "Day of the evaluation",
        Field.Permanent => "The hearing loss is permanent",
        Field.Provisional => "Provisional: another evaluation is needed",
        Field.NextEvaluationOn => "Next evaluation wanted",
        Field.Event => "What happened",
        Field.HappenedOn => "When",
        Field.DiedOn => "Day of death",
        Field.Move => "Where to",
        Field.MovedOn => "When",
        Field.ToSite => "To which site",
        Field.TransferredOn => "When",
        Field.Step => "About which step",
        Field.RefusedOn => "Refused on",
        Field.RevokedOn => "Ended on, when the family changed its mind",
        Field.RefusedBy => "Who refused",
        Field.Indicator => "Risk indicator",
        Field.NotedOn => "Noted on",
        Field.AttemptedOn => "When",
        Field.ContactOutcome => "What came of it",
        Field.ContactChannel => "By which way",
        Field.ContactPerson => "Who was reached",
        Field.CallAgainOn => "Call again on",
        Field.ContactNote => "Note",
        Field.Appointment => "What became of it",
        Field.AppointmentOn => "Day of the appointment",
        Field.AppointmentTime => "Time",
        Field.AppointmentSite => "At which site",
        Field.AppointmentPlace => "Place (building, room or street)",
        Field.AdmittedOn => "Admitted",
        Field.RaisesRisk => "With a condition that raises the risk of hearing loss",
        Field.FromOn => "From",
        Field.EndedOn => "Ended",
        _ => OfFamily(field) ?? OfTests(field),
    };

    private static string? OfFamily(Field field) => field switch
    {
        Field.Relation => "Who it is to the child",
        Field.PersonName => "Name",
        Field.PhoneUse => "Kind of phone",
        Field.OtherPhone => "Another phone",
        Field.OtherPhoneUse => "Kind of the other phone",
        Field.InterpreterNeeded => "Needs an interpreter",
        Field.PreferredChannel => "Best way to reach them",
        Field.PreferredHours => "Best hours",
        Field.HoldsCustody => "Holds custody: decides for the child",
        Field.MayBeTold => "May be told of the child's hearing",
        Field.StatedOn => "As of (today, if left empty)",
        Field.PrimaryCare => "Primary care (doctor or office)",
        Field.PrimaryCarePhone => "Phone of primary care",
        Field.PrimaryCareConfirmed => "Confirmed, by them or the family",
        _ => null,
    };

    /// <summary>Columns of the tests of an evaluation.</summary>
    private static string OfTests(Field field) => field switch
    {
        Field.PriorRecordNumber => "Earlier record number of the same infant",
        Field.DurationSeconds => "Duration, seconds",
        Field.ArtefactsRejected => "Artifacts rejected",
        Field.EarCanalVolumeMl => "Ear-canal volume, mL",
        Field.AmbientNoiseDb => "Ambient noise, dB SPL",
        Field.Bands => "Bands, each Hz:level:noise:ratio, with ; between",
        Field.Evaluator => "Evaluated by",
        Field.EvaluationPlace => "Evaluated where",
        Field.BehavioralMethod => "Behavioral method",
        Field.AirTransducer => "Earphones",
        Field.RightAir => "Right ear, air",
        Field.LeftAir => "Left ear, air",
        Field.RightBone => "Right ear, bone",
        Field.LeftBone => "Left ear, bone",
        Field.RightTympanogramLow => "Right tympanogram, 226 Hz",
        Field.RightTympanogramHigh => "Right tympanogram, 1000 Hz",
        Field.LeftTympanogramLow => "Left tympanogram, 226 Hz",
        Field.LeftTympanogramHigh => "Left tympanogram, 1000 Hz",
        Field.RightEmissions => "Right ear, otoacoustic emissions",
        Field.LeftEmissions => "Left ear, otoacoustic emissions",
        Field.EmissionsMethod => "Method of the emissions",
        Field.RightAbr => "Right ear, ABR by air",
        Field.LeftAbr => "Left ear, ABR by air",
        Field.RightAbrBone => "Right ear, ABR by bone",
        Field.LeftAbrBone => "Left ear, ABR by bone",
        Field.AbrScale => "ABR thresholds are in",
        Field.AbrCorrection => "Correction to dB eHL",
        _ => Words.Of((Enum)field),
    };

    /// <summary>The same of a column's name as a problem states it; the name itself where it is none of ours.</summary>
    public static string Of(string column) => Codes.TryParse<Field>(column, out var field) ? Of(field) : column;
}
