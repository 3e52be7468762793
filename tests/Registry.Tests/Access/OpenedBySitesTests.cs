using System.Net;
using Registry.Records;
using Registry.Tests.FollowUp;
using Registry.Tests.HandOffs;
using Registry.Tests.Intake;

namespace Registry.Tests.Access;

/// <summary>What opens a record to a site that reported nothing, what closes it again, and what must not open it. Today is 25 November
/// 2026.</summary>
public sealed class OpenedBySitesTests(TestDatabase database)
{
    private const string Appointments = "kind,record_number,step,appointment,happened_on,appointment_on,appointment_site\n";

    [Fact]
    public async Task A_booking_opens_the_record_until_it_is_cancelled_or_moved_elsewhere()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, beds.Clinic);
        var infant = await WorkBed.IdAsync(bed, "W-1");
        Assert.False(await beds.SeesAsync(clinic, infant));
        await BookAsync("2026-12-01", "cove", "");
        Assert.True(await beds.SeesAsync(clinic, infant));
        Assert.Equal("cove harbour", await SeeAsync(bed, infant));
        var moving = await BookAsync("2026-12-03", "hill", "2026-12-01");
        Assert.False(await beds.SeesAsync(clinic, infant));
        Assert.Equal("harbour hill", await SeeAsync(bed, infant));
        using (await SignedIn.SendFormAsync(coordinator, "/follow-up?handler=Undo", ("infant", infant), ("key", moving))) { }
        Assert.Equal("cove harbour", await SeeAsync(bed, infant));

        // The same day at another clinic: the one before expects nobody.
        await BookAsync("2026-12-01", "hill", "2026-12-01");
        Assert.Equal("harbour hill", await SeeAsync(bed, infant));
        await BookAsync("2026-12-01", "cove", "2026-12-01");
        Assert.Equal("cove harbour", await SeeAsync(bed, infant));
        using (var ended = await SignedIn.SendFormAsync(coordinator, "/follow-up?handler=Appointment", ("infant", infant),
            ("Step", "Diagnosis"), ("AppointmentOn", "2026-12-01"), ("Kind", "Cancelled"), ("Key", Guid.NewGuid().ToString())))
            Assert.Equal(HttpStatusCode.Redirect, ended.StatusCode);
        Assert.Equal("harbour", await SeeAsync(bed, infant));
        using (var gone = await clinic.GetAsync($"/infants/{infant}", IntakeBed.Ct))
            Assert.Equal(HttpStatusCode.NotFound, gone.StatusCode);

        async Task<string> BookAsync(string on, string at, string booked)
        {
            var key = Guid.NewGuid().ToString();
            using var sent = await WorkBed.CallAsync(coordinator, infant, "AppointmentMade", ("AppointmentOn", on), ("AppointmentSite", at),
                ("BookedOn", booked), ("Key", key));
            Assert.Equal(HttpStatusCode.Redirect, sent.StatusCode);
            return key;
        }
    }

    /// <summary>A clinic reports on the visit, whoever else reported since; one whose family never came and went elsewhere has nothing to
    /// report.</summary>
    [Fact]
    public async Task A_visit_keeps_the_record_open_to_the_clinic_that_is_to_report_on_it()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        var (kept, missed, passed) =
            (await WorkBed.IdAsync(bed, "W-1"), await WorkBed.IdAsync(bed, "W-2"), await WorkBed.IdAsync(bed, "W-3"));
        await bed.SendAsync(Appointments
            + "appointment,W-1,diagnosis,made,2026-11-01,2026-11-10,cove\nappointment,W-1,diagnosis,kept,2026-11-10,2026-11-10,\n"
            + "appointment,W-2,diagnosis,made,2026-11-01,2026-11-10,cove\nappointment,W-2,diagnosis,no_show,2026-11-10,2026-11-10,\n"
            + "appointment,W-3,diagnosis,made,2026-11-01,2026-11-10,cove\n");
        foreach (var infant in new[] { kept, missed, passed }) Assert.Equal("cove harbour", await SeeAsync(bed, infant));

        await bed.SendAsync(Appointments + string.Concat(new[] { "W-1", "W-2", "W-3" }.Select(
            w => $"appointment,{w},diagnosis,made,2026-11-20,2026-12-01,hill\n")));
        Assert.Equal(("cove harbour hill", "harbour hill", "cove harbour hill"),
            (await SeeAsync(bed, kept), await SeeAsync(bed, missed), await SeeAsync(bed, passed)));
        // Taken back, the booking elsewhere closes nothing.
        await bed.SendAsync("action," + Appointments + "retract,appointment,W-2,diagnosis,made,2026-11-20,2026-12-01,\n");
        Assert.Equal("cove harbour", await SeeAsync(bed, missed));
    }

    [Fact]
    public async Task A_site_that_becomes_an_early_intervention_program_sees_no_record_without_consent()
    {
        await using var beds = await HandOffBed.StartAsync(database);
        var bed = beds.Bed;
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await bed.SendAsync(Appointments + "appointment,W-1,diagnosis,made,2026-11-01,2026-12-01,cove\n");
        await bed.SendAsync("kind,record_number,to_site,transferred_on\ntransfer,W-2,cove,2026-11-20\n");
        await beds.HandedAsync(coordinator, "W-3", "clinic", "cove");
        await beds.HandedAsync(coordinator, "W-5", "clinic", "cove", ("ConsentOn", "2026-11-20"));
        Assert.Equal(4, await CountAsync());
        await bed.App.AsOwnerAsync("update sites set kind = 'intervention_program' where code = 'cove'");
        Assert.Equal(1, await CountAsync());
        Assert.Equal("cove harbour", await SeeAsync(bed, await WorkBed.IdAsync(bed, "W-5")));
        await bed.App.AsOwnerAsync("update sites set kind = 'audiology_clinic' where code = 'cove'");
        Assert.Equal(4, await CountAsync());

        Task<long> CountAsync() => bed.CountAsync($"infant_sites where site_id = '{beds.Clinic.Value}'");
    }

    /// <summary>A call, a number, a doctor, an appointment, as a coordinator or a case worker writes them down for the site.</summary>
    [Fact]
    public async Task What_the_regions_own_people_say_of_a_family_keeps_no_record_open_to_the_site_it_is_said_for()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var infant = await WorkBed.IdAsync(bed, "W-1");
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        using var worker = await SignedIn.AsAsync(bed, Role.CaseWorker, null, "Lind");
        using var screener = await SignedIn.AsAsync(bed, Role.Screener, bed.Harbour);
        foreach (var (client, phone, doctor) in new[] { (coordinator, "555-0151", "Dr. Berg"), (worker, "555-0152", "Dr. Tarn") })
        {
            await TypeAsync(client, infant, "family_contact", ("relation", "mother"), ("contact_phone", phone));
            await TypeAsync(client, infant, "care", ("primary_care", doctor));
            using (await WorkBed.CallAsync(client, infant, "Reached")) { }
        }

        using (await WorkBed.CallAsync(coordinator, infant, "AppointmentMade", ("AppointmentOn", "2026-12-01"))) { }
        Assert.Equal(["2 2 3 1"], await bed.ListAsync("select concat_ws(' ', (select count(*) from family_contacts), "
            + "(select count(*) from care), (select count(*) from contacts), (select count(*) from appointments))"));
        Assert.Equal("harbour", await SeeAsync(bed, infant));
        await TakeBackAsync(bed, infant);
        Assert.Equal("", await SeeAsync(bed, infant));
        Assert.Equal(HttpStatusCode.NotFound, (await screener.GetAsync($"/infants/{infant}", IntakeBed.Ct)).StatusCode);
    }

    /// <summary>What a site's own people say of the family is its word, and a birth or a test that somebody typed for it as well.</summary>
    [Fact]
    public async Task A_sites_own_word_and_a_test_typed_for_it_open_the_record_to_it()
    {
        await using var bed = await WorkBed.StartAsync(database);
        var (first, second) = (await WorkBed.IdAsync(bed, "W-1"), await WorkBed.IdAsync(bed, "W-2"));
        using var manager = await SignedIn.AsAsync(bed, Role.SiteManager, bed.Harbour);
        using var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        await TypeAsync(manager, first, "care", ("primary_care", "Dr. Berg"));
        await TypeAsync(coordinator, second, "risk", ("indicator", "family_history"), ("noted_on", "2026-11-21"));
        foreach (var infant in new[] { first, second })
        {
            await TakeBackAsync(bed, infant);
            Assert.Equal("harbour", await SeeAsync(bed, infant));
        }

        var midwife = await bed.AddSiteAsync("midwife", SiteKind.Midwife);
        using var hers = await SignedIn.AsAsync(bed, Role.Screener, midwife);
        using (await WorkBed.TypeAsync(coordinator, "/infants/new",
        [
            ("record_number", "M-1"), ("birth_date", "2026-11-24"), ("sex", "female"), ("mother_given_name", "Nora"),
            ("mother_family_name", "Vale"),
        ], ("Form.Site", "midwife"), ("Form.Confirmed", "true"))) { }
        Assert.Equal("coordinator", Assert.Single(await bed.ListAsync(
            "select b.sent_as from births f join submissions b on b.id = f.submission_id join sites s on s.id = f.site_id "
                + "where s.code = 'midwife'")));
        Assert.Equal(HttpStatusCode.OK,
            (await hers.GetAsync($"/infants/{await WorkBed.IdAsync(bed, "M-1")}", IntakeBed.Ct)).StatusCode);
    }

    private static async Task TypeAsync(HttpClient client, string infant, string kind, params (string Name, string Value)[] columns)
    {
        using var sent = await WorkBed.TypeAsync(
            client, $"/infants/{infant}/enter/{kind}", columns, ("Form.Site", "harbour"), ("Form.Confirmed", "true"));
        Assert.Equal(HttpStatusCode.Redirect, sent.StatusCode);
    }

    /// <summary>What the birth site itself reported of the infant holds no more: it was another child.</summary>
    private static async Task TakeBackAsync(IntakeBed bed, string infant)
    {
        foreach (var table in new[] { "births", "screenings", "infant_identifiers" })
            await bed.App.AsOwnerAsync(
                $"update {table} set superseded_at = '2026-11-26T12:00Z' where infant_id = '{infant}' and superseded_at is null");
    }

    private static async Task<string> SeeAsync(IntakeBed bed, string infant) => string.Join(' ', await bed.ListAsync(
        $"select s.code from infant_sites v join sites s on s.id = v.site_id where v.infant_id = '{infant}' order by 1"));
}
