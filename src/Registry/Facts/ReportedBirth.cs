using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Facts;

public sealed record ReportedBirth(DateOnly BornOn, Sex Sex) : ReportedFact<ReportedBirth>
{
    public TimeOnly? BornAt { get; init; }
    public BirthPlace? Place { get; init; }
    public int? Plurality { get; init; }
    public int? BirthOrder { get; init; }
    public int? GestationWeeks { get; init; }
    public int? BirthWeightGrams { get; init; }
    public DateOnly? NicuAdmittedOn { get; init; }
    public DateOnly? NicuDischargedOn { get; init; }
    public DateOnly? DischargedOn { get; init; }
    public string? InfantGivenName { get; init; }
    public string? InfantFamilyName { get; init; }
    public string? MotherGivenName { get; init; }
    public string? MotherFamilyName { get; init; }
    public DateOnly? MotherBornOn { get; init; }
    public string? County { get; init; }
    public string? Insurance { get; init; }
    public string? Language { get; init; }
    public string? RaceEthnicity { get; init; }
    public string? MaternalEducation { get; init; }
    public string? ContactEmail { get; init; }
    public string? ContactPhone { get; init; }
    public bool? EmailConsent { get; init; }

    public override DateOnly On => BornOn;

    /// <summary>This birth as restated by a later row: what the row states replaces, what it leaves out stays.</summary>
    public ReportedBirth RestatedBy(ReportedBirth row) => new(row.BornOn, row.Sex == Sex.Unknown ? Sex : row.Sex)
    {
        BornAt = row.BornAt ?? BornAt,
        Place = row.Place ?? Place,
        Plurality = row.Plurality ?? Plurality,
        BirthOrder = row.BirthOrder ?? BirthOrder,
        GestationWeeks = row.GestationWeeks ?? GestationWeeks,
        BirthWeightGrams = row.BirthWeightGrams ?? BirthWeightGrams,
        NicuAdmittedOn = row.NicuAdmittedOn ?? NicuAdmittedOn,
        NicuDischargedOn = row.NicuDischargedOn ?? NicuDischargedOn,
        DischargedOn = row.DischargedOn ?? DischargedOn,
        InfantGivenName = row.InfantGivenName ?? InfantGivenName,
        InfantFamilyName = row.InfantFamilyName ?? InfantFamilyName,
        MotherGivenName = row.MotherGivenName ?? MotherGivenName,
        MotherFamilyName = row.MotherFamilyName ?? MotherFamilyName,
        MotherBornOn = row.MotherBornOn ?? MotherBornOn,
        County = row.County ?? County,
        Insurance = row.Insurance ?? Insurance,
        Language = row.Language ?? Language,
        RaceEthnicity = row.RaceEthnicity ?? RaceEthnicity,
        MaternalEducation = row.MaternalEducation ?? MaternalEducation,
        ContactEmail = row.ContactEmail ?? ContactEmail,
        ContactPhone = row.ContactPhone ?? ContactPhone,
        EmailConsent = row.EmailConsent ?? EmailConsent,
    };

    protected override FactVerdict ComparedWith(ReportedBirth recorded, bool sameSite, out ReportedBirth result)
    {
        var said = sameSite ? this : SpelledAs(recorded);
        result = recorded.RestatedBy(said);
        if (result == recorded) return FactVerdict.Same;
        return sameSite || said.OnlyAddsTo(recorded) ? FactVerdict.Replaces : FactVerdict.Contradicts;
    }

    protected override bool IsAboutTheSameAs(ReportedBirth recorded) => true;

    /// <summary>Another site's birth row fills blanks and repeats the rest. Consent to e-mail is whatever was said last.</summary>
    private bool OnlyAddsTo(ReportedBirth recorded)
    {
        var (row, known) = (this with { EmailConsent = null }, recorded with { EmailConsent = null });
        return row.RestatedBy(known) == known.RestatedBy(row);
    }

    /// <summary>The row with recorded spellings where its names differ in case, marks and punctuation only.</summary>
    private ReportedBirth SpelledAs(ReportedBirth recorded) => this with
    {
        InfantGivenName = SameName(InfantGivenName, recorded.InfantGivenName),
        InfantFamilyName = SameName(InfantFamilyName, recorded.InfantFamilyName),
        MotherGivenName = SameName(MotherGivenName, recorded.MotherGivenName),
        MotherFamilyName = SameName(MotherFamilyName, recorded.MotherFamilyName),
    };

    private static string? SameName(string? row, string? recorded) =>
        NormaliseName.Of(row) == NormaliseName.Of(recorded) ? recorded : row;

    /// <summary>A column more is a property and a line of <see cref="RestatedBy"/> above, and two lines here.</summary>
    internal static FactKind Table()
    {
        var table = new FactTable<ReportedBirth>(RowKind.Birth, "births", day: "born_on");
        table.SaidByItsSubmission();
        var bornOn = table.Date("born_on", f => f.BornOn);
        var bornAt = table.Time("born_at", f => f.BornAt);
        var place = table.Code("place", f => f.Place ?? BirthPlace.Hospital);
        var sex = table.Code("sex", f => f.Sex);
        var plurality = table.Number("plurality", f => f.Plurality);
        var order = table.Number("birth_order", f => f.BirthOrder);
        var weeks = table.Number("gestation_weeks", f => f.GestationWeeks);
        var grams = table.Number("birth_weight_grams", f => f.BirthWeightGrams);
        var nicuFrom = table.Date("nicu_admitted_on", f => f.NicuAdmittedOn);
        var nicuTo = table.Date("nicu_discharged_on", f => f.NicuDischargedOn);
        var discharged = table.Date("discharged_on", f => f.DischargedOn);
        table.ForRules(
            r => new Birth(bornOn[r], bornAt[r])
            {
                SiteId = r.GetGuid(FactKind.Site),
                Place = place[r],
                GestationWeeks = weeks[r],
                NicuAdmittedOn = nicuFrom[r],
                NicuDischargedOn = nicuTo[r],
                DischargedOn = discharged[r],
            },
            (f, all) => f with { Birth = all[^1] });
        var infantGiven = table.Text("infant_given_name", f => f.InfantGivenName).NotExported();
        var infantFamily = table.Text("infant_family_name", f => f.InfantFamilyName).NotExported();
        var motherGiven = table.Text("mother_given_name", f => f.MotherGivenName).NotExported();
        var motherFamily = table.Text("mother_family_name", f => f.MotherFamilyName).NotExported();
        var motherBorn = table.Date("mother_born_on", f => f.MotherBornOn).NotExported();
        table.Key("mother_family_key", f => NormaliseName.Of(f.MotherFamilyName));
        table.Key("mother_given_key", f => NormaliseName.Of(f.MotherGivenName));
        var county = table.Text("county", f => f.County);
        var insurance = table.Text("insurance", f => f.Insurance);
        var language = table.Text("language", f => f.Language);
        var ethnicity = table.Text("race_ethnicity", f => f.RaceEthnicity);
        var education = table.Text("maternal_education", f => f.MaternalEducation);
        var email = table.Text("contact_email", f => f.ContactEmail).NotExported();
        var phone = table.Text("contact_phone", f => f.ContactPhone).NotExported();
        var consent = table.Bool("email_consent", f => f.EmailConsent ?? false).NotExported();
        table.ReadAs(r => new(bornOn[r], sex[r])
        {
            BornAt = bornAt[r],
            Place = place[r],
            Plurality = plurality[r],
            BirthOrder = order[r],
            GestationWeeks = weeks[r],
            BirthWeightGrams = grams[r],
            NicuAdmittedOn = nicuFrom[r],
            NicuDischargedOn = nicuTo[r],
            DischargedOn = discharged[r],
            InfantGivenName = infantGiven[r],
            InfantFamilyName = infantFamily[r],
            MotherGivenName = motherGiven[r],
            MotherFamilyName = motherFamily[r],
            MotherBornOn = motherBorn[r],
            County = county[r],
            Insurance = insurance[r],
            Language = language[r],
            RaceEthnicity = ethnicity[r],
            MaternalEducation = education[r],
            ContactEmail = email[r],
            ContactPhone = phone[r],
            EmailConsent = consent[r],
        });
        return table;
    }
}
