using Registry.Records;

namespace Registry.Demo;

/// <summary>Turns what happens to a family into the rows its places report, each known from a certain moment on.</summary>
/// <param name="anchor">What is known only later is not reported.</param>
internal sealed class Reporting(DateOnly anchor)
{
    private readonly List<Report> _reports = [];

    public IReadOnlyList<Report> Reports => _reports;

    /// <summary>A row about the infant: the birth site names its own record number, another place the card with birth date and
    /// mother's name, or birth date and mother.</summary>
    public void Add(Place place, RowKind kind, DateTime knownAt, Infant infant, params (string, string)[] values)
    {
        if (DateOnly.FromDateTime(knownAt) > anchor) return;
        (string, string)[] who = kind == RowKind.Birth ? [("record_number", infant.Record), ("card_id", infant.Card)]
            : place == infant.Site ? [("record_number", infant.Record)]
            : infant.CardIsKnown ? [("card_id", infant.Card), ("birth_date", Report.Day(infant.BornOn)),
                ("mother_family_name", infant.Mother.Family)]
            : [("birth_date", Report.Day(infant.BornOn)), ("sex", Report.Code(infant.Sex)), ("birth_order", Report.Number(infant.Order)),
                ("mother_given_name", infant.Mother.Given), ("mother_family_name", infant.Mother.Family),
                ("mother_birth_date", Report.Day(infant.Mother.BornOn))];
        _reports.Add(new(place, kind, knownAt, [.. who, .. values]));
    }

    /// <summary>A row made elsewhere.</summary>
    public void Add(Report report)
    {
        if (DateOnly.FromDateTime(report.KnownAt) <= anchor) _reports.Add(report);
    }

    /// <summary>A row whose one date is the day it became known.</summary>
    public void Add(Place place, RowKind kind, DateTime at, Infant infant, string dateColumn, params (string, string)[] values) =>
        Add(place, kind, at, infant, [.. values, (dateColumn, Report.Day(at))]);

    /// <summary>The birth: known at discharge, after intensive care on the day after and again with the end of the stay.</summary>
    public void Birth(Infant infant)
    {
        var stays = infant.NicuDays > 0;
        var here = infant.Nicu == infant.Site;
        var values = new List<(string, string)>
        {
            ("birth_date", Report.Day(infant.BornOn)),
            ("birth_time", Report.Moment(infant.BornAt)[11..]),
            ("birth_place", infant.BornAtHome ? "home" : infant.Site.Kind == SiteKind.BirthCenter ? "birth_center" : "hospital"),
            ("sex", Report.Code(infant.Sex)),
            ("plurality", Report.Number(infant.Plurality)),
            ("birth_order", Report.Number(infant.Order)),
            ("gestation_weeks", Report.Number(infant.GestationWeeks)),
            ("birth_weight_g", Report.Number(infant.WeightGrams)),
            ("infant_family_name", infant.Mother.Family),
            ("mother_given_name", infant.Mother.Given),
            ("mother_family_name", infant.Mother.Family),
            ("mother_birth_date", Report.Day(infant.Mother.BornOn)),
            ("county", infant.Site.County),
            ("residence_state", infant.LivesHere ? "LM" : "OS"),
            ("insurance", infant.Mother.Insurance),
            ("language", infant.Mother.Language),
            ("race_ethnicity", infant.Mother.Origin),
            ("maternal_education", infant.Mother.Education),
            ("contact_phone", infant.Mother.Phone),
            ("email_consent", infant.Mother.Email is not null && infant.Mother.Consent ? "yes" : "no"),
        };
        if (infant.GivenName is { } given) values.Add(("infant_given_name", given));
        if (infant.Mother.Email is { } email) values.Add(("contact_email", email));
        if (stays && here) values.Add(("nicu_admitted_on", Report.Day(infant.BornOn)));
        if (!stays && !infant.BornAtHome) values.Add(("discharged_on", Report.Day(infant.DischargedAt)));
        Add(infant.Site, RowKind.Birth, stays ? After(infant.BornAt, 20) : infant.DischargedAt, infant, [.. values]);

        if (stays && here && !(infant.DiedAt < infant.DischargedAt))
        {
            values.Add(("nicu_discharged_on", Report.Day(infant.DischargedAt)));
            values.Add(("discharged_on", Report.Day(infant.DischargedAt)));
            Add(infant.Site, RowKind.Birth, infant.DischargedAt, infant, [.. values]);
        }
        else if (stays && infant.Nicu is { } receiving && !here)
        {
            Add(infant.Site, RowKind.Transfer, After(infant.BornAt, 21), infant, ("to_site", receiving.Code),
                ("transferred_on", Report.Day(infant.BornOn)));
        }
    }

    /// <summary>One test of one ear. What is done before discharge is sent with the birth.</summary>
    public void Test(Infant infant, Place place, DateTime at, string ear, string outcome, string method, string? reason, Equipment with,
        bool outpatient) =>
        Add(place, RowKind.Screening, !outpatient && infant.NicuDays == 0 && at < infant.DischargedAt ? infant.DischargedAt : at, infant,
        [
            ("ear", ear), ("outcome", outcome), ("method", method), ("performed_at", Report.Moment(at)),
            ("stage", outpatient ? "outpatient_rescreen" : "birth_admission"),
            ("instrument", with.Instrument), ("probe", with.Probe), ("screener", with.Screener),
            .. reason is null ? Array.Empty<(string, string)>() : [("reason", reason)],
        ]);

    public void Contact(Infant infant, DateTime at, string step, string outcome) =>
        Add(Places.Office, RowKind.Contact, at, infant, "attempted_on", ("step", step), ("contact_outcome", outcome));

    public void Evaluation(Infant infant, Place clinic, DateTime at, string right, string left, string degree, bool provisional = false)
    {
        Add(clinic, RowKind.Diagnosis, at, infant, "evaluated_on", ("right_finding", right), ("left_finding", left),
            ("right_degree", Degree(right)), ("left_degree", Degree(left)), ("provisional", provisional ? "yes" : "no"));

        string Degree(string finding) => finding is "normal" or "inconclusive" ? "not_stated" : degree;
    }

    public void Intervention(Infant infant, DateTime at, string kind) =>
        Add(Places.EarlyIntervention, RowKind.Intervention, at, infant, "happened_on", ("event", kind));

    /// <summary>So many hours later, to the minute, the same on every runtime.</summary>
    public static DateTime After(DateTime at, double hours) => at.AddTicks((long)(hours * 60) * TimeSpan.TicksPerMinute);
}

/// <summary>What one session was done with, and by whom (a code).</summary>
internal sealed record Equipment(string Instrument, string Probe, string Screener)
{
    public static Equipment Draw(Dice dice, Place place) =>
        new(dice.Of(place.Instruments), dice.Of(place.Probes), dice.Of(place.Screeners));
}
