using System.Globalization;
using Registry.Facts;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>The columns by which a row states a fact, whole: read again (<see cref="CheckRow"/>) they are the same fact.</summary>
public static class StateFact
{
    /// <param name="fact">The fact.</param>
    /// <param name="sites">Codes of the sites it may name.</param>
    public static IReadOnlyDictionary<Field, string> Of(ReportedFact fact, IReadOnlyDictionary<Guid, string> sites)
    {
        var row = new Columns();
        switch (fact)
        {
            case ReportedBirth birth:
                Say(row, birth);
                break;
            case ReportedScreening test:
                Say(row, test);
                break;
            case ReportedDiagnosis found:
                Say(row, found);
                break;
            case ReportedFamilyContact person:
                Say(row, person);
                break;
            case ReportedCare care:
                row.Day(Field.StatedOn, care.StatedOn);
                row.Text(Field.PrimaryCare, care.PrimaryCare);
                row.Text(Field.PrimaryCarePhone, care.PrimaryCarePhone);
                row.Bool(Field.PrimaryCareConfirmed, care.PrimaryCareConfirmed);
                row.Text(Field.Insurance, care.Insurance);
                break;
            case ReportedAppointment at:
                row.Code<PathStep>(Field.Step, at.Step);
                row.Code<AppointmentEvent>(Field.Appointment, at.Kind);
                row.Day(Field.HappenedOn, at.HappenedOn);
                row.Day(Field.AppointmentOn, at.AppointmentOn);
                row.Time(Field.AppointmentTime, at.Time);
                row.Text(Field.AppointmentSite, at.AtSiteId is { } site ? sites[site] : null);
                row.Text(Field.AppointmentPlace, at.Place);
                break;
            default:
                SayShort(row, fact, sites);
                break;
        }

        return row.All;
    }

    private static void SayShort(Columns row, ReportedFact fact, IReadOnlyDictionary<Guid, string> sites)
    {
        switch (fact)
        {
            case ReportedIntervention intervention:
                row.Code<InterventionKind>(Field.Event, intervention.Kind);
                row.Day(Field.HappenedOn, intervention.HappenedOn);
                break;
            case ReportedDeath death:
                row.Day(Field.DiedOn, death.DiedOn);
                break;
            case ReportedMove move:
                row.Code<MoveKind>(Field.Move, move.Kind);
                row.Day(Field.MovedOn, move.MovedOn);
                break;
            case ReportedTransfer transfer:
                row.Text(Field.ToSite, sites[transfer.ToSiteId]);
                row.Day(Field.TransferredOn, transfer.TransferredOn);
                break;
            case ReportedRefusal refusal:
                row.Code<PathStep>(Field.Step, refusal.Step);
                row.Day(Field.RefusedOn, refusal.RefusedOn);
                row.Day(Field.RevokedOn, refusal.RevokedOn);
                row.Text(Field.RefusedBy, refusal.RefusedBy);
                break;
            case ReportedRisk risk:
                row.Code<RiskIndicatorKind>(Field.Indicator, risk.Kind);
                row.Day(Field.NotedOn, risk.NotedOn);
                break;
            case ReportedReadmission stay:
                row.Day(Field.AdmittedOn, stay.AdmittedOn);
                row.Day(Field.DischargedOn, stay.DischargedOn);
                row.Bool(Field.RaisesRisk, stay.RaisesRisk);
                break;
            case ReportedMedicalDelay delay:
                row.Code<PathStep>(Field.Step, delay.Step);
                row.Day(Field.FromOn, delay.FromOn);
                row.Day(Field.EndedOn, delay.EndedOn);
                break;
            case ReportedContact contact:
                row.Code<PathStep>(Field.Step, contact.Step);
                row.Day(Field.AttemptedOn, contact.AttemptedOn);
                row.Code<ContactOutcome>(Field.ContactOutcome, contact.Outcome);
                row.Code(Field.ContactChannel, contact.Channel);
                row.Code(Field.ContactPerson, contact.Person);
                row.Day(Field.CallAgainOn, contact.CallAgainOn);
                row.Text(Field.ContactNote, contact.Note);
                break;
            default:
                throw new ArgumentOutOfRangeException(nameof(fact), $"Nothing says how a row states a {fact.GetType().Name}.");
        }
    }

    private static void Say(Columns row, ReportedBirth birth)
    {
        row.Day(Field.BirthDate, birth.BornOn);
        row.Time(Field.BirthTime, birth.BornAt);
        row.Code<Sex>(Field.Sex, birth.Sex);
        row.Code(Field.BirthPlace, birth.Place);
        row.Number(Field.Plurality, birth.Plurality);
        row.Number(Field.BirthOrder, birth.BirthOrder);
        row.Number(Field.GestationWeeks, birth.GestationWeeks);
        row.Number(Field.BirthWeightG, birth.BirthWeightGrams);
        row.Day(Field.NicuAdmittedOn, birth.NicuAdmittedOn);
        row.Day(Field.NicuDischargedOn, birth.NicuDischargedOn);
        row.Day(Field.DischargedOn, birth.DischargedOn);
        row.Text(Field.InfantGivenName, birth.InfantGivenName);
        row.Text(Field.InfantFamilyName, birth.InfantFamilyName);
        row.Text(Field.MotherGivenName, birth.MotherGivenName);
        row.Text(Field.MotherFamilyName, birth.MotherFamilyName);
        row.Day(Field.MotherBirthDate, birth.MotherBornOn);
        row.Text(Field.County, birth.County);
        row.Text(Field.ResidenceState, birth.ResidenceState);
        row.Text(Field.Insurance, birth.Insurance);
        row.Text(Field.Language, birth.Language);
        row.Text(Field.RaceEthnicity, birth.RaceEthnicity);
        row.Text(Field.MaternalEducation, birth.MaternalEducation);
        row.Text(Field.ContactEmail, birth.ContactEmail);
        row.Text(Field.ContactPhone, birth.ContactPhone);
        row.Bool(Field.EmailConsent, birth.EmailConsent);
        row.Text(Field.PostDischargeProvider, birth.PostDischargeProvider);
    }

    private static void Say(Columns row, ReportedScreening test)
    {
        row.Code<Ear>(Field.Ear, test.Ear);
        row.Code<ScreeningOutcome>(Field.Outcome, test.Outcome);
        row.Code<ScreeningMethod>(Field.Method, test.Method);
        row.Code(Field.Reason, test.Reason, ScreeningReason.None);
        row.Moment(Field.PerformedAt, test.PerformedAt);
        row.Code(Field.Stage, test.Stage, ScreeningStage.Unstated);
        row.Text(Field.Instrument, test.Instrument);
        row.Text(Field.Probe, test.Probe);
        row.Text(Field.Screener, test.Screener);
        if (test.Detail is not { } detail) return;
        row.Text(Field.Stimulus, detail.Stimulus);
        row.Number(Field.DurationSeconds, detail.DurationSeconds);
        row.Number(Field.ArtefactsRejected, detail.ArtefactsRejected);
        row.Number(Field.EarCanalVolumeMl, detail.EarCanalVolumeMl);
        row.Number(Field.AmbientNoiseDb, detail.AmbientNoiseDb);
        row.Text(Field.Bands, TestDetail.WriteBands(detail.Bands));
    }

    private static void Say(Columns row, ReportedDiagnosis found)
    {
        row.Day(Field.EvaluatedOn, found.EvaluatedOn);
        row.Code<EarFinding>(Field.RightFinding, found.Right);
        row.Code<EarFinding>(Field.LeftFinding, found.Left);
        row.Code(Field.RightDegree, found.RightDegree, LossDegree.NotStated);
        row.Code(Field.LeftDegree, found.LeftDegree, LossDegree.NotStated);
        row.Bool(Field.Provisional, found.Provisional);
        row.Bool(Field.Permanent, found.Permanent);
        row.Day(Field.NextEvaluationOn, found.NextOn);
        row.Text(Field.Evaluator, found.Evaluator);
        row.Text(Field.EvaluationPlace, found.Place);
        if (found.Detail is not { } detail) return;
        row.Code(Field.BehavioralMethod, detail.BehavioralMethod);
        row.Code(Field.AirTransducer, detail.AirTransducer);
        row.Code(Field.RightTympanogramLow, detail.RightTympanogramLow);
        row.Code(Field.RightTympanogramHigh, detail.RightTympanogramHigh);
        row.Code(Field.LeftTympanogramLow, detail.LeftTympanogramLow);
        row.Code(Field.LeftTympanogramHigh, detail.LeftTympanogramHigh);
        row.Code(Field.RightEmissions, detail.RightEmissions);
        row.Code(Field.LeftEmissions, detail.LeftEmissions);
        row.Code(Field.EmissionsMethod, detail.EmissionsMethod);
        row.Code(Field.AbrScale, detail.AbrScale);
        row.Text(Field.AbrCorrection, detail.AbrCorrection);
        foreach (var (field, kind, ear) in ReadFields.ThresholdFields)
            row.Text(field, Threshold.Write(detail.Thresholds.Where(t => t.Kind == kind && t.Ear == ear)));
    }

    private static void Say(Columns row, ReportedFamilyContact person)
    {
        row.Code<FamilyRelation>(Field.Relation, person.Kind);
        row.Day(Field.StatedOn, person.StatedOn);
        row.Text(Field.PersonName, person.Name);
        row.Text(Field.ContactPhone, person.Phone);
        row.Code(Field.PhoneUse, person.PhoneUse);
        row.Text(Field.OtherPhone, person.OtherPhone);
        row.Code(Field.OtherPhoneUse, person.OtherPhoneUse);
        row.Text(Field.ContactEmail, person.Email);
        row.Text(Field.Street, person.Street);
        row.Text(Field.City, person.City);
        row.Text(Field.ResidenceState, person.State);
        row.Text(Field.PostalCode, person.PostalCode);
        row.Text(Field.Language, person.Language);
        row.Bool(Field.InterpreterNeeded, person.InterpreterNeeded);
        row.Code(Field.PreferredChannel, person.PreferredChannel);
        row.Text(Field.PreferredHours, person.PreferredHours);
        row.Bool(Field.HoldsCustody, person.HoldsCustody);
        row.Bool(Field.MayBeTold, person.MayBeTold);
    }

    /// <summary>The columns of one row; what is not known is not stated.</summary>
    private sealed class Columns
    {
        private readonly Dictionary<Field, string> _stated = [];

        public IReadOnlyDictionary<Field, string> All => _stated;

        public void Text(Field field, string? value)
        {
            if (!string.IsNullOrEmpty(value)) _stated[field] = value;
        }

        public void Code<T>(Field field, T? value) where T : struct, Enum => Text(field, value is { } known ? Codes.Of(known) : null);

        public void Code<T>(Field field, T value, T notStated) where T : struct, Enum =>
            Code<T>(field, value.Equals(notStated) ? null : value);

        public void Day(Field field, DateOnly? value) => Text(field, value?.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture));

        /// <summary>Seconds where there are any.</summary>
        public void Time(Field field, TimeOnly? value) =>
            Text(field, value?.ToString(value.Value.Second == 0 ? "HH:mm" : "HH:mm:ss", CultureInfo.InvariantCulture));

        public void Moment(Field field, DateTime value) => Text(field, value.ToString(
            value.Second == 0 ? "yyyy-MM-dd'T'HH:mm" : "yyyy-MM-dd'T'HH:mm:ss", CultureInfo.InvariantCulture));

        public void Number(Field field, decimal? value) =>
            Text(field, value?.ToString("0.##", CultureInfo.InvariantCulture));

        public void Bool(Field field, bool? value) => Text(field, value is { } stated ? stated ? "true" : "false" : null);
    }
}
