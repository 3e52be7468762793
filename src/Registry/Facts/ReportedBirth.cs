using Npgsql;
using Registry.Platform.Encryption;
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
    public string? ResidenceState { get; init; }
    public string? Insurance { get; init; }
    public string? Language { get; init; }
    public string? RaceEthnicity { get; init; }
    public string? MaternalEducation { get; init; }
    public string? ContactEmail { get; init; }
    public string? ContactPhone { get; init; }
    public bool? EmailConsent { get; init; }
    public string? PostDischargeProvider { get; init; }

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
        ResidenceState = row.ResidenceState ?? ResidenceState,
        Insurance = row.Insurance ?? Insurance,
        Language = row.Language ?? Language,
        RaceEthnicity = row.RaceEthnicity ?? RaceEthnicity,
        MaternalEducation = row.MaternalEducation ?? MaternalEducation,
        ContactEmail = row.ContactEmail ?? ContactEmail,
        ContactPhone = row.ContactPhone ?? ContactPhone,
        EmailConsent = row.EmailConsent ?? EmailConsent,
        PostDischargeProvider = row.PostDischargeProvider ?? PostDischargeProvider,
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

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedBirth>(RowKind.Birth, "births", day: "born_on");
        table.SaidByItsSubmission();
        var columns = new Columns(table);
        table.Key("mother_family_key", f => NormaliseName.Of(f.MotherFamilyName));
        table.Key("mother_given_key", f => NormaliseName.Of(f.MotherGivenName));
        table.Key("contact_email_key", f => FieldKeys.OfProcess.KeyOfEmail(f.ContactEmail));
        table.Key("contact_phone_key", f => FieldKeys.OfProcess.KeyOfPhone(f.ContactPhone));
        table.ReadAs(columns.Read);
        table.ForRules(columns.ForRules, (f, all) => f with { Birth = all[^1] }, last: columns.DischargedOn);
        return table;
    }

    /// <summary>A column more is a property and a line of <see cref="RestatedBy"/> above, and two lines here.</summary>
    private sealed class Columns(FactTable<ReportedBirth> table)
    {
        private readonly FactColumn<DateOnly> _bornOn = table.Date("born_on", f => f.BornOn);
        private readonly FactColumn<TimeOnly?> _bornAt = table.Time("born_at", f => f.BornAt);
        private readonly FactColumn<BirthPlace> _place = table.Code("place", f => f.Place ?? BirthPlace.Hospital);
        private readonly FactColumn<Sex> _sex = table.Code("sex", f => f.Sex);
        private readonly FactColumn<int?> _plurality = table.Number("plurality", f => f.Plurality);
        private readonly FactColumn<int?> _order = table.Number("birth_order", f => f.BirthOrder);
        private readonly FactColumn<int?> _weeks = table.Number("gestation_weeks", f => f.GestationWeeks);
        private readonly FactColumn<int?> _grams = table.Number("birth_weight_grams", f => f.BirthWeightGrams);
        private readonly FactColumn<DateOnly?> _nicuFrom = table.Date("nicu_admitted_on", f => f.NicuAdmittedOn);
        private readonly FactColumn<DateOnly?> _nicuTo = table.Date("nicu_discharged_on", f => f.NicuDischargedOn);

        /// <summary>The last the rules ask for.</summary>
        public readonly FactColumn<DateOnly?> DischargedOn = table.Date("discharged_on", f => f.DischargedOn);
        private readonly FactColumn<string?> _infantGiven = table.Text("infant_given_name", f => f.InfantGivenName).NotExported();
        private readonly FactColumn<string?> _infantFamily = table.Text("infant_family_name", f => f.InfantFamilyName).NotExported();
        private readonly FactColumn<string?> _motherGiven = table.Text("mother_given_name", f => f.MotherGivenName).NotExported();
        private readonly FactColumn<string?> _motherFamily = table.Text("mother_family_name", f => f.MotherFamilyName).NotExported();
        private readonly FactColumn<DateOnly?> _motherBorn = table.Date("mother_born_on", f => f.MotherBornOn).NotExported();
        private readonly FactColumn<string?> _county = table.Text("county", f => f.County);
        private readonly FactColumn<string?> _state = table.Text("residence_state", f => f.ResidenceState);
        private readonly FactColumn<string?> _insurance = table.Text("insurance", f => f.Insurance);
        private readonly FactColumn<string?> _language = table.Text("language", f => f.Language);
        private readonly FactColumn<string?> _ethnicity = table.Text("race_ethnicity", f => f.RaceEthnicity);
        private readonly FactColumn<string?> _education = table.Text("maternal_education", f => f.MaternalEducation);
        private readonly FactColumn<string?> _email = table.Secret("contact_email", f => f.ContactEmail);
        private readonly FactColumn<string?> _phone = table.Secret("contact_phone", f => f.ContactPhone);
        private readonly FactColumn<bool> _consent = table.Bool("email_consent", f => f.EmailConsent ?? false).NotExported();
        private readonly FactColumn<string?> _provider = table.Secret("post_discharge_provider", f => f.PostDischargeProvider);

        public Birth ForRules(NpgsqlDataReader r) => new(_bornOn[r], _bornAt[r])
        {
            SiteId = r.GetGuid(FactKind.Site),
            Place = _place[r],
            GestationWeeks = _weeks[r],
            NicuAdmittedOn = _nicuFrom[r],
            NicuDischargedOn = _nicuTo[r],
            DischargedOn = DischargedOn[r],
        };

        public ReportedBirth Read(NpgsqlDataReader r) => new(_bornOn[r], _sex[r])
        {
            BornAt = _bornAt[r],
            Place = _place[r],
            Plurality = _plurality[r],
            BirthOrder = _order[r],
            GestationWeeks = _weeks[r],
            BirthWeightGrams = _grams[r],
            NicuAdmittedOn = _nicuFrom[r],
            NicuDischargedOn = _nicuTo[r],
            DischargedOn = DischargedOn[r],
            InfantGivenName = _infantGiven[r],
            InfantFamilyName = _infantFamily[r],
            MotherGivenName = _motherGiven[r],
            MotherFamilyName = _motherFamily[r],
            MotherBornOn = _motherBorn[r],
            County = _county[r],
            ResidenceState = _state[r],
            Insurance = _insurance[r],
            Language = _language[r],
            RaceEthnicity = _ethnicity[r],
            MaternalEducation = _education[r],
            ContactEmail = _email[r],
            ContactPhone = _phone[r],
            EmailConsent = _consent[r],
            PostDischargeProvider = _provider[r],
        };
    }
}
