using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Demo;

/// <summary>
/// Families placed by hand around the anchor day, so that a region of any size and seed has every kind of work due that week, overdue
/// and done. Their record numbers (<c>WORK-01</c> …, <c>TWIN-01A</c> …) are listed in demo-data/README.md.
/// </summary>
internal sealed class ArrangedFamilies(DateOnly anchor, ulong seed)
{
    /// <summary>Infants the arrangement makes known (twins that cannot be told apart are held and not counted).</summary>
    public const int Infants = 22;

    private readonly Reporting _reports = new(anchor);
    private int _number;

    public IReadOnlyList<Report> Arrange()
    {
        Screening();
        Diagnosis();
        Intervention();
        Gone();
        Twins();
        return _reports.Reports;
    }

    private void Screening()
    {
        var unscreened = Born("WORK-01", "tarnbrook", Before(28));
        foreach (var ear in new[] { "right", "left" })
            _reports.Add(unscreened.Site, RowKind.Screening, unscreened.DischargedAt, unscreened,
                ("ear", ear), ("outcome", "not_performed"), ("reason", "discharged_before_screen"),
                ("performed_at", Report.Moment(unscreened.DischargedAt)));
        _reports.Contact(unscreened, At(Before(6)), "screening", "no_response");

        var referred = Born("WORK-02", "tarnbrook", Before(26));
        Screen(referred, "refer", "refer");
        _reports.Contact(referred, At(Before(5)), "screening", "appointment_made");
        Said(referred, 5, ("relation", "father"), ("person_name", "Joel Sandholm"), ("contact_phone", "555-0161"), ("phone_use", "mobile"),
            ("preferred_hours", "after 17:00"));

        var noisy = Born("WORK-03", "wrenfield", Before(25));
        Screen(noisy, "pass", "no_valid_result");

        var late = Born("WORK-04", "kestrel-moor", Before(52));
        Screen(late, "refer", "pass");
        _reports.Contact(late, At(Before(20)), "screening", "no_response");
        _reports.Contact(late, At(Before(9)), "screening", "unable_to_contact");
        Said(late, 7, ("relation", "mother"), ("contact_phone", "555-0162"), ("phone_use", "mobile"), ("street", "4 Weir Lane"),
            ("city", "Kestrel Moor"), ("language", "Spanish"), ("interpreter_needed", "yes"), ("preferred_channel", "text_message"));
    }

    private void Diagnosis()
    {
        var intensive = Born("WORK-05", "quarry-hill", anchor.AddMonths(-3).AddDays(4), nicuDays: 9);
        _reports.Add(intensive.Site, RowKind.Risk, intensive.DischargedAt, intensive, ("indicator", "nicu_over_five_days"),
            ("noted_on", Report.Day(intensive.BornOn)));
        Screen(intensive, "refer", "refer");
        _reports.Contact(intensive, At(Before(40)), "diagnosis", "appointment_made");

        var due = Born("WORK-06", "stonebeck", anchor.AddMonths(-3).AddDays(2));
        Rescreened(due);
        _reports.Contact(due, At(Before(30)), "diagnosis", "reached");
        // A placement: the agency decides, the child lives with a foster family, and the mother must not be told.
        Said(due, 28, ("relation", "agency"), ("person_name", "Stonebeck child protection"), ("contact_phone", "555-0163"),
            ("phone_use", "work"), ("holds_custody", "yes"), ("may_be_told", "yes"));
        Said(due, 28, ("relation", "foster_parent"), ("person_name", "Maren Oddley"), ("contact_phone", "555-0164"),
            ("may_be_told", "yes"));
        Said(due, 28, ("relation", "mother"), ("may_be_told", "no"));

        var open = Born("WORK-07", "quarry-hill", Before(104));
        Rescreened(open);
        _reports.Evaluation(open, Places.ClinicOf("Lind"), At(Before(45)), "inconclusive", "inconclusive", "not_stated", provisional: true);

        var lost = Born("WORK-08", "saltmarsh-general", Before(150));
        Rescreened(lost);
        foreach (var days in new[] { 110, 90, 60 }) _reports.Contact(lost, At(Before(days)), "diagnosis", "unable_to_contact");
        Said(lost, 120, ("relation", "grandparent"), ("person_name", "Edda Farrow"), ("contact_phone", "555-0165"), ("phone_use", "home"));
        _reports.Add(lost.Site, RowKind.Care, At(Before(120)), lost, ("primary_care", "Saltmarsh family practice"),
            ("primary_care_phone", "555-0166"), ("primary_care_confirmed", "no"), ("insurance", "medicaid"));

        // Evaluated at the clinic that stopped reporting: what it found never came (story 3).
        var undocumented = Born("WORK-09", "aldery-cross", Before(140));
        Rescreened(undocumented);
        _reports.Contact(undocumented, At(Before(100)), "diagnosis", "appointment_made");
        _reports.Evaluation(undocumented, Places.Of(Places.SilentClinic), At(Before(Places.SilentDays - 3)), "normal", "normal",
            "not_stated");

        var surveillance = Born("WORK-10", "tarnbrook", anchor.AddMonths(-3).AddDays(3));
        Screen(surveillance, "pass", "pass");
        _reports.Add(surveillance.Site, RowKind.Risk, surveillance.DischargedAt, surveillance, ("indicator", "congenital_cmv"),
            ("noted_on", Report.Day(surveillance.BornOn)));
    }

    private void Intervention()
    {
        var toRefer = Born("WORK-11", "quarry-hill", Before(71));
        Rescreened(toRefer);
        Confirmed(toRefer, Before(4));

        var toEnrol = Born("WORK-12", "wrenfield", anchor.AddMonths(-6).AddDays(5));
        Rescreened(toEnrol);
        Confirmed(toEnrol, Before(31));
        _reports.Intervention(toEnrol, At(Before(27)), "referred");
        _reports.Intervention(toEnrol, At(Before(11)), "amplification_fitted");

        var overdue = Born("WORK-13", "stonebeck", Before(215));
        Rescreened(overdue);
        Confirmed(overdue, Before(140));
        _reports.Intervention(overdue, At(Before(136)), "referred");
        _reports.Contact(overdue, At(Before(70)), "intervention", "no_response");

        var enrolled = Born("WORK-14", "tarnbrook", Before(240));
        Rescreened(enrolled);
        Confirmed(enrolled, Before(170));
        foreach (var (kind, days) in new[] { ("referred", 167), ("eligible", 150), ("amplification_fitted", 145), ("enrolled", 130),
            ("service_plan", 128) })
            _reports.Intervention(enrolled, At(Before(days)), kind);
    }

    private void Gone()
    {
        var moved = Born("WORK-15", "stonebeck", Before(120));
        Rescreened(moved);
        _reports.Add(Places.Office, RowKind.Move, At(Before(70)), moved, "moved_on", ("move", "out_of_region"));

        var back = Born("WORK-16", "tarnbrook", Before(130));
        Rescreened(back);
        _reports.Add(Places.Office, RowKind.Move, At(Before(90)), back, "moved_on", ("move", "out_of_region"));
        _reports.Add(Places.Office, RowKind.Move, At(Before(12)), back, "moved_on", ("move", "returned"));

        var refused = Born("WORK-17", "wrenfield", Before(100));
        Rescreened(refused);
        _reports.Add(Places.Office, RowKind.Refusal, At(Before(50)), refused, "refused_on", ("step", "diagnosis"),
            ("refused_by", "parent"));

        var died = Born("WORK-18", "quarry-hill", Before(80), nicuDays: 30);
        _reports.Add(Places.Office, RowKind.Death, At(Before(60)), died, ("died_on", Report.Day(Before(66))));
    }

    /// <summary>Story 6: twins whose numbers change places, twins without a birth order, and a report that fits both of a pair.</summary>
    private void Twins()
    {
        var first = Twin("TWIN-01", 1, "tarnbrook", Before(16));
        var second = Twin("TWIN-01", 2, "tarnbrook", Before(16), first.Mother);
        Screen(first, "pass", "pass");
        Screen(second, "refer", "pass");
        // The correction of a week later gives each the other's place.
        var births = _reports.Reports.Where(r => r.Kind == RowKind.Birth
            && r["record_number"]!.StartsWith("TWIN-01", StringComparison.Ordinal)).ToList();
        foreach (var birth in births)
            _reports.Add(birth with
            {
                KnownAt = At(Before(8)),
                Values = birth.With("birth_order", birth["birth_order"] == "1" ? "2" : "1").Values
            });

        var one = Twin("TWIN-02", 1, "wrenfield", Before(9), report: false);
        var other = Twin("TWIN-02", 2, "wrenfield", Before(9), one.Mother, report: false);
        foreach (var twin in new[] { one, other })
        {
            var alone = new Reporting(anchor);
            alone.Birth(twin);
            _reports.Add(alone.Reports[0].Without("birth_order", "card_id"));
        }

        var a = Twin("TWIN-03", 1, "stonebeck", Before(75));
        var b = Twin("TWIN-03", 2, "stonebeck", Before(75), a.Mother);
        Rescreened(a);
        Rescreened(b);
        var evaluation = new Reporting(anchor);
        evaluation.Evaluation(a with { CardIsKnown = false }, Places.ClinicOf("Harrow"), At(Before(6)), "normal", "normal", "not_stated");
        _reports.Add(evaluation.Reports[0].Without("birth_order"));
    }

    /// <summary>What its birth site was told of the family so many days ago.</summary>
    private void Said(Infant infant, int days, params (string, string)[] values) =>
        _reports.Add(infant.Site, RowKind.FamilyContact, At(Before(days)), infant, "stated_on", values);

    private DateOnly Before(int days) => anchor.AddDays(-days);

    private static DateTime At(DateOnly day) => day.ToDateTime(new TimeOnly(10, 30));

    private Infant Twin(string record, int order, string site, DateOnly on, Mother? mother = null, bool report = true) =>
        Born($"{record}{(order == 1 ? 'A' : 'B')}", site, on, 0, mother, order, 2, report);

    private Infant Born(string record, string site, DateOnly on, int nicuDays = 0, Mother? mother = null, int order = 1, int plurality = 1,
        bool report = true)
    {
        var dice = Dice.For(seed ^ 0xA44A, ++_number);
        var place = Places.Of(site);
        var bornAt = on.ToDateTime(new TimeOnly(dice.Between(1, 11), dice.Between(0, 59)));
        var infant = new Infant(place, record, $"LW{_number:000000}", bornAt, mother
            ?? Mother.Imagine(dice, $"w{Report.Number(_number)}", on), Sex.Female, order, plurality)
        {
            NicuDays = nicuDays,
            Nicu = nicuDays > 0 ? place : null,
            GestationWeeks = nicuDays > 0 ? 33 : plurality > 1 ? 36 : 39,
            WeightGrams = nicuDays > 0 ? 1900 : plurality > 1 ? 2500 : 3400,
            DischargedAt = bornAt.AddDays(nicuDays > 0 ? nicuDays : 2),
        };
        if (report) _reports.Birth(infant);
        return infant;
    }

    private void Screen(Infant infant, string right, string left) =>
        Screen(infant, infant.DischargedAt.AddHours(-14), right, left, outpatient: false);

    private void Screen(Infant infant, DateTime at, string right, string left, bool outpatient)
    {
        var with = Equipment.Draw(Dice.For(seed ^ 0xE00E, _number), infant.Site);
        foreach (var (ear, outcome) in new[] { ("right", right), ("left", left) })
            _reports.Test(infant, infant.Site, at.AddMinutes(ear == "right" ? 0 : 4), ear, outcome, "aabr",
                outcome == "no_valid_result" ? "noise" : null, with, outpatient);
    }

    /// <summary>Referred at birth and again two weeks later.</summary>
    private void Rescreened(Infant infant)
    {
        Screen(infant, "refer", "refer");
        Screen(infant, At(infant.BornOn.AddDays(15)), "refer", "refer", outpatient: true);
    }

    private void Confirmed(Infant infant, DateOnly on) =>
        _reports.Evaluation(infant, Places.ClinicOf(infant.Site.County), At(on), "sensorineural", "sensorineural", "moderate");
}
