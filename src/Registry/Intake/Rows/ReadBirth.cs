using Registry.Facts;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Rows;

/// <summary>What a birth row says beside who it is about.</summary>
internal readonly ref partial struct ReadFields
{
    public static Field[] OfBirth =>
    [
        Field.BirthTime, Field.BirthPlace, Field.BirthSite, Field.Plurality, Field.GestationWeeks, Field.BirthWeightG,
        Field.NicuAdmittedOn, Field.NicuDischargedOn, Field.DischargedOn, Field.InfantGivenName, Field.InfantFamilyName,
        Field.County, Field.ResidenceState, Field.Insurance, Field.Language, Field.RaceEthnicity, Field.MaternalEducation,
        Field.ContactEmail, Field.ContactPhone, Field.EmailConsent, Field.PostDischargeProvider,
    ];

    public ReportedBirth? Birth(in Identity identity)
    {
        var stated = RequiredPast(Field.BirthDate);
        var bornOn = stated ?? DateOnly.MinValue;
        var birth = new ReportedBirth(bornOn, identity.Sex)
        {
            BornAt = Time(Field.BirthTime) is { } time && stated is { } day ? Existing(Field.BirthTime, day, time)?.Time : null,
            Place = Code<BirthPlace>(Field.BirthPlace),
            Plurality = identity.Plurality,
            BirthOrder = identity.BirthOrder,
            GestationWeeks = Int(Field.GestationWeeks, 20, 45),
            BirthWeightGrams = Int(Field.BirthWeightG, 200, 8000),
            NicuAdmittedOn = AfterBirth(Field.NicuAdmittedOn, bornOn),
            NicuDischargedOn = AfterBirth(Field.NicuDischargedOn, bornOn),
            DischargedOn = AfterBirth(Field.DischargedOn, bornOn),
            InfantGivenName = String(Field.InfantGivenName, 100),
            InfantFamilyName = String(Field.InfantFamilyName, 100),
            MotherGivenName = String(Field.MotherGivenName, 100),
            MotherFamilyName = String(Field.MotherFamilyName, 100),
            MotherBornOn = identity.MotherBornOn,
            County = String(Field.County, 100),
            ResidenceState = String(Field.ResidenceState, 40),
            Insurance = String(Field.Insurance, 100),
            Language = String(Field.Language, 100),
            RaceEthnicity = String(Field.RaceEthnicity, 100),
            MaternalEducation = String(Field.MaternalEducation, 100),
            ContactEmail = Email(),
            ContactPhone = String(Field.ContactPhone, 40),
            EmailConsent = Bool(Field.EmailConsent),
            PostDischargeProvider = String(Field.PostDischargeProvider, 100),
        };
        if (birth.NicuDischargedOn < birth.NicuAdmittedOn) problems.Add(new(Field.NicuDischargedOn, "is before nicu_admitted_on"));
        if (birth.NicuDischargedOn is not null && birth.NicuAdmittedOn is null && !IsStated(Field.NicuAdmittedOn))
            problems.Add(new(Field.NicuAdmittedOn, "is required with nicu_discharged_on"));
        return stated is null ? null : birth;
    }

    private DateOnly? AfterBirth(Field field, DateOnly bornOn)
    {
        var date = Past(field);
        if (!(date < bornOn)) return date;
        problems.Add(new(field, "is before birth_date"));
        return null;
    }

    private string? Email()
    {
        var text = String(Field.ContactEmail, 254);
        if (text is null) return null;
        var at = text.IndexOf('@', StringComparison.Ordinal);
        if (at > 0 && at == text.LastIndexOf('@') && at < text.Length - 1 && !text.Contains(' ', StringComparison.Ordinal)) return text;
        problems.Add(new(Field.ContactEmail, "is not an e-mail address"));
        return null;
    }
}

/// <summary>A birth, the other way.</summary>
public static partial class FactAsRow
{
    internal static void Say(StatedColumns row, ReportedBirth birth)
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
}
