using System.Globalization;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Demo;

/// <summary>
/// One invented family: a birth (sometimes of twins) and all that is later reported about it. Rates are chosen to be realistic; each
/// constant carries its mark: F found in the named source, M from memory, P common practice, O our own choice for the demonstration.
/// </summary>
internal sealed partial class ImagineFamily(int number, ulong seed, DateOnly anchor)
{
    private const double TwinShare = 0.015;          // of deliveries; multiples about 3 % of births (M)
    private const double NicuAtNicuSite = 0.12;      // O, gives about 8 % of all births
    private const double NicuElsewhere = 0.03;       // O
    private const double LossPerThousand = 1.6;      // permanent loss 1-3 per 1,000 (CDC, MMWR 2015; F)
    private const double LossPerThousandNicu = 8;    // higher after intensive care (P)
    private const double DeathShare = 0.002;         // O
    private const double DeathShareNicu = 0.02;      // O
    private const double MoveShare = 0.008;          // O
    private const double RefusalShare = 0.003;       // O
    private const double MissedShare = 0.012;        // screened 97-99 % (CDC; F)

    private static readonly string[] Languages = ["en", "en", "en", "en", "en", "en", "es", "es", "vi", "ar"];
    private static readonly string[] Insurances = ["private", "private", "public", "public", "none"];
    private static readonly string[] Origins = ["white", "white", "white", "black", "hispanic", "hispanic", "asian", "american indian", "multiple", "not stated"];
    private static readonly string[] Educations = ["less than high school", "high school", "some college", "college degree", "not stated"];

    private readonly Dice _dice = Dice.For(seed, number);
    private readonly List<Report> _reports = [];

    /// <summary>Everything ever reported about this family up to the anchor day, in no particular order.</summary>
    public IReadOnlyList<Report> Imagine(DateOnly firstDay, int days)
    {
        var site = Places.Birthing[_dice.Weighted([.. Places.Birthing.Select(p => p.Share)])];
        var bornAt = firstDay.AddDays(_dice.Between(0, days - 1)).ToDateTime(new TimeOnly(_dice.Between(0, 23), _dice.Between(0, 59)));
        var twins = _dice.Chance(TwinShare);
        var mother = new Mother(_dice.Of(Places.GivenNames), _dice.Of(Places.FamilyNames),
            DateOnly.FromDateTime(bornAt).AddDays(-_dice.Between(18 * 365, 42 * 365)),
            _dice.Of(Languages), _dice.Of(Insurances), _dice.Of(Origins), _dice.Of(Educations),
            _dice.Chance(.55) ? $"family{number.ToString(CultureInfo.InvariantCulture)}@mail.example" : null,
            $"555-01{_dice.Between(0, 99):00}", _dice.Chance(.8));
        for (var order = 1; order <= (twins ? 2 : 1); order++)
        {
            Child(site, mother, bornAt.AddMinutes(12 * (order - 1)), order, twins ? 2 : 1);
        }

        return _reports;
    }

    private sealed record Mother(
        string Given, string Family, DateOnly BornOn, string Language, string Insurance, string Origin, string Education, string? Email, string Phone, bool Consent);

    /// <summary>One child as it goes through the path.</summary>
    private sealed record Infant(Place Site, string Record, string Card, DateTime BornAt, Mother Mother, Sex Sex, int Order, int Plurality)
    {
        public DateOnly BornOn => DateOnly.FromDateTime(BornAt);
        public DateTime? DiedAt { get; init; }
        public DateTime? MovedAt { get; init; }
        public int NicuDays { get; init; }
        public Place? Nicu { get; init; }
        public DateTime DischargedAt { get; init; }
        public bool LossRight { get; init; }
        public bool LossLeft { get; init; }
        public bool PermanentLoss => LossRight || LossLeft;

        /// <summary>From then on nothing more happens here.</summary>
        public DateTime GoneAt => DiedAt is { } died && !(MovedAt < died) ? died : MovedAt ?? DateTime.MaxValue;
        public Place ScreeningSite => Nicu ?? Site;
    }

    private void Child(Place site, Mother mother, DateTime bornAt, int order, int plurality)
    {
        var nicu = _dice.Chance((site.HasNicu ? NicuAtNicuSite : NicuElsewhere) * (plurality > 1 ? 3 : 1));
        var nicuDays = nicu ? Math.Max(1, (int)_dice.LogNormal(8, .8)) : 0;
        var nicuSite = nicu ? site.HasNicu ? site : Places.NicuFor(site.County) : null;
        var loss = _dice.Chance((nicu ? LossPerThousandNicu : LossPerThousand) / 1000);
        var both = loss && _dice.Chance(.6);
        var right = _dice.Chance(.5);
        var died = _dice.Chance(nicu ? DeathShareNicu : DeathShare) ? bornAt.AddHours(_dice.LogNormal(nicu ? 140 : 400, 1)) : (DateTime?)null;
        var moved = _dice.Chance(MoveShare) ? bornAt.AddDays(_dice.Between(6, 150)) : (DateTime?)null;
        var infant = new Infant(site, $"{Initials(site)}{number:000000}{(order > 1 ? "B" : "A")}", $"L{seed % 97:00}{number * 2 + order:0000000}", bornAt, mother,
            _dice.Chance(.512) ? Sex.Male : Sex.Female, order, plurality)
        {
            DiedAt = died,
            MovedAt = moved,
            NicuDays = nicuDays,
            Nicu = nicuSite,
            DischargedAt = nicu ? bornAt.AddDays(nicuDays).AddHours(4) : bornAt.AddHours(Math.Clamp(_dice.LogNormal(48, .3), 24, 110)),
            LossRight = both || (loss && right),
            LossLeft = both || (loss && !right),
        };
        ReportBirth(infant);
        var screen = new Screening();
        if (infant.Site.Kind != SiteKind.Midwife || _dice.Chance(.7)) ScreenBeforeDischarge(infant, screen);
        else screen.Missed = true;
        AfterDischarge(infant, screen);
        if (infant.DiedAt is { } deathAt) Add(Places.Program, RowKind.Death, deathAt.AddDays(5), infant, false, ("died_on", Report.Day(DateOnly.FromDateTime(deathAt))));
        if (infant.MovedAt is { } movedAt && !(infant.DiedAt < movedAt))
            Add(Places.Program, RowKind.Move, movedAt.AddDays(9), infant, false, ("move", _dice.Chance(.9) ? "out_of_region" : "adopted"), ("moved_on", Report.Day(DateOnly.FromDateTime(movedAt))));
    }

    private void ReportBirth(Infant infant)
    {
        var home = infant.Site.Kind == SiteKind.Midwife;
        var weeks = infant.NicuDays > 0 ? _dice.Between(29, 38) : _dice.Between(37, 41);
        var known = infant.BornAt.AddHours(20);
        var values = new List<(string, string)>
        {
            ("birth_date", Report.Day(infant.BornOn)),
            ("birth_time", infant.BornAt.ToString("HH:mm", CultureInfo.InvariantCulture)),
            ("birth_place", home ? "home" : infant.Site.Kind == SiteKind.BirthCenter ? "birth_center" : "hospital"),
            ("sex", Report.Code(infant.Sex)),
            ("plurality", infant.Plurality.ToString(CultureInfo.InvariantCulture)),
            ("birth_order", infant.Order.ToString(CultureInfo.InvariantCulture)),
            ("gestation_weeks", weeks.ToString(CultureInfo.InvariantCulture)),
            ("birth_weight_g", Math.Clamp(3400 - (40 - weeks) * 170 + _dice.Between(-450, 450), 600, 5200).ToString(CultureInfo.InvariantCulture)),
            ("infant_family_name", infant.Mother.Family),
            ("mother_given_name", infant.Mother.Given),
            ("mother_family_name", infant.Mother.Family),
            ("mother_birth_date", Report.Day(infant.Mother.BornOn)),
            ("county", infant.Site.County),
            ("insurance", infant.Mother.Insurance),
            ("language", infant.Mother.Language),
            ("race_ethnicity", infant.Mother.Origin),
            ("maternal_education", infant.Mother.Education),
            ("contact_phone", infant.Mother.Phone),
            ("email_consent", infant.Mother.Email is not null && infant.Mother.Consent ? "yes" : "no"),
        };
        if (infant.Mother.Email is { } email) values.Add(("contact_email", email));
        if (infant.NicuDays > 0 && infant.Nicu == infant.Site) values.Add(("nicu_admitted_on", Report.Day(infant.BornOn)));
        if (!home && infant.NicuDays == 0) values.Add(("discharged_on", Report.Day(DateOnly.FromDateTime(infant.DischargedAt))));
        Add(infant.Site.Code, RowKind.Birth, infant.NicuDays == 0 ? Later(known, infant.DischargedAt) : known, infant, true, [.. values]);

        if (infant.NicuDays > 0 && infant.Nicu == infant.Site && !(infant.DiedAt < infant.DischargedAt))
        {
            // The same birth again at discharge, now with the end of the stay: a correction by the same site.
            values.Add(("nicu_discharged_on", Report.Day(DateOnly.FromDateTime(infant.DischargedAt))));
            values.Add(("discharged_on", Report.Day(DateOnly.FromDateTime(infant.DischargedAt))));
            Add(infant.Site.Code, RowKind.Birth, infant.DischargedAt, infant, true, [.. values]);
        }
        else if (infant.NicuDays > 0 && infant.Nicu is { } receiving && receiving != infant.Site)
        {
            Add(infant.Site.Code, RowKind.Transfer, infant.BornAt.AddHours(8), infant, true, ("to_site", receiving.Code), ("transferred_on", Report.Day(infant.BornOn)));
        }

        ReportRisks(infant);
    }

    private void ReportRisks(Infant infant)
    {
        var risks = new List<string>();
        if (infant.NicuDays > 5) risks.Add("nicu_over_five_days");
        if (infant.NicuDays > 5 && _dice.Chance(.25)) risks.Add("aminoglycosides");
        if (infant.NicuDays > 0 && _dice.Chance(.04)) risks.Add("asphyxia");
        if (_dice.Chance(infant.PermanentLoss ? .2 : .008)) risks.Add("family_history");
        if (_dice.Chance(.003)) risks.Add("craniofacial");
        if (_dice.Chance(.002)) risks.Add("congenital_cmv");
        foreach (var risk in risks)
            Add(infant.ScreeningSite.Code, RowKind.Risk, infant.DischargedAt, infant, infant.ScreeningSite == infant.Site, ("indicator", risk), ("noted_on", Report.Day(infant.BornOn)));
        if (_dice.Chance(.0015))
        {
            var admitted = DateOnly.FromDateTime(infant.DischargedAt).AddDays(_dice.Between(3, 14));
            Add(infant.Site.Code, RowKind.Readmission, admitted.AddDays(4).ToDateTime(TimeOnly.MinValue), infant, true,
                ("admitted_on", Report.Day(admitted)), ("discharged_on", Report.Day(admitted.AddDays(3))), ("raises_risk", "yes"));
        }
    }

    /// <summary>Adds a row if it happened before the family was gone and by the anchor day.</summary>
    /// <param name="byRecord">Identified by the site's own record number; otherwise by card id or by birth date and mother.</param>
    private void Add(string site, RowKind kind, DateTime at, Infant infant, bool byRecord, params (string, string)[] values)
    {
        if (DateOnly.FromDateTime(at) > anchor) return;
        (string, string)[] who = byRecord && kind == RowKind.Birth ? [("record_number", infant.Record), ("card_id", infant.Card)]
            : byRecord ? [("record_number", infant.Record)]
            : number % 5 != 0 ? [("card_id", infant.Card)]
            : [("birth_date", Report.Day(infant.BornOn)), ("sex", Report.Code(infant.Sex)), ("birth_order", infant.Order.ToString(CultureInfo.InvariantCulture)),
                ("mother_given_name", infant.Mother.Given), ("mother_family_name", infant.Mother.Family), ("mother_birth_date", Report.Day(infant.Mother.BornOn))];
        _reports.Add(new Report(site, kind, at, [.. who, .. values]));
    }

    private static DateTime Later(DateTime a, DateTime b) => a > b ? a : b;

    private static string Initials(Place site) => string.Concat(site.Code.Split('-').Select(w => char.ToUpperInvariant(w[0])));
}
