using System.Net;
using Microsoft.Extensions.DependencyInjection;
using Registry.Access;
using Registry.Erasure;
using Registry.Facts;
using Registry.Infants.Record;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Tests.Intake.Formats;

namespace Registry.Tests.Intake.Rows;

/// <summary>What rows say of a family: checked, kept whole with its history, read by nobody who may not, and undone without losing what was
/// known before.</summary>
public sealed class FamilyRowsTests(TestDatabase database)
{
    private const string Birth =
        "kind,record_number,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,contact_phone\n"
        + "birth,H-1,2026-09-01,female,Ada,Marlow,1995-02-03,555 010 0101\n";

    private const string Header =
        "kind,record_number,relation,person_name,contact_phone,phone_use,other_phone,other_phone_use,contact_email,street,city,residence_state,"
        + "postal_code,language,interpreter_needed,preferred_channel,preferred_hours,holds_custody,may_be_told,stated_on,action\n";

    [Fact]
    public async Task A_row_is_checked_like_any_other()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Birth);
        var id = await bed.SendAsync(Header
            + "family_contact,H-1,father,Tom Marlow,555 010 0102,mobile,555 010 0103,work,tom@example.test,1 Quay Rd,Harbour,LM,0001,Danish,yes,"
            + "text_message,after 17:00,yes,yes,2026-11-01,\n"
            + "family_contact,H-1,uncle,Tom,,,,,,,,,,,,,,,,,\n"
            + "family_contact,H-1,father,,no number,,,,,,,,,,,,,,,,\n"
            + "family_contact,H-1,father,,,mobile,,,,,,,,,,,,,,,\n"
            + "family_contact,H-1,father,,,,,,,,,,,,,,,,,,\n"
            + "family_contact,H-1,grandparent,Ida Berg,,,,,,,,,,,,,,yes,,,\n"
            + "family_contact,H-1,father,,,,,,not an address,,,,,,,,,,,,\n"
            + "family_contact,H-1,father,Tom,,,,,,,,,,,,,,,,2027-01-01,\n"
            + "family_contact,H-1,father,Tom,,,,,,,,,,,,,,,,2026-08-01,\n");
        Assert.Equal(
        [
            "accepted", "rejected relation: unknown code; it is one of: mother, father, other_parent, guardian, foster_parent, agency, "
                + "grandparent, other_relative, self, other",
            "rejected contact_phone: is not a telephone number", "rejected contact_phone: is required with phone_use",
            "rejected says nothing of the person: a name, a telephone, an address or another column is needed",
            "rejected holds_custody: is of a parent, guardian, foster parent or agency: state who holds custody as one of them",
            "rejected contact_email: is not an e-mail address", "rejected stated_on: is in the future",
            "rejected stated_on: is before the birth of the infant it is about",
        ], await bed.OutcomesAsync(id));
        Assert.Equal(["da"], await bed.ListAsync("select language from family_contacts"));
        var father = (await FamilyAsync(bed)).People.Single(p => p.Kind == Rules.Facts.FamilyRelation.Father);
        Assert.Equal(("Tom Marlow", "555 010 0102", "555 010 0103", "1 Quay Rd", "after 17:00", true),
            (father.Name, father.Phone, father.OtherPhone, father.Street, father.PreferredHours, father.InterpreterNeeded));

        // A workbook, a fixed line or a column of another kind: refused, not ignored.
        var birth = await bed.SendAsync("kind,record_number,birth_date,sex,street\nbirth,H-2,2026-09-02,male,1 Quay Rd\n");
        Assert.Equal(["rejected street: does not belong to a birth row"], await bed.OutcomesAsync(birth));
    }

    [Fact]
    public async Task JSON_says_the_same_and_care_is_a_row_of_its_own()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Birth);
        var id = await bed.SendAsync(
            """
            {"rows":[
            {"kind":"family_contact","record_number":"H-1","relation":"mother","contact_phone":"555 010 0199","interpreter_needed":true},
            {"kind":"care","record_number":"H-1","primary_care":"Dr. Berg","primary_care_confirmed":true,"insurance":"medicaid"},
            {"kind":"care","record_number":"H-1","primary_care_confirmed":true},
            {"kind":"care","record_number":"H-1"}]}
            """, format: SubmissionFormat.Json);
        Assert.Equal(
            [
                "accepted", "accepted", "rejected primary_care: is required with primary_care_confirmed",
                "rejected says nothing: primary care or an insurance is needed",
            ], await bed.OutcomesAsync(id));
        var family = await FamilyAsync(bed);
        Assert.Equal("555 010 0199", family.BestToCall!.Phone);
        Assert.Equal(("Dr. Berg", true), (family.Care.PrimaryCare, family.Care.PrimaryCareConfirmed!.Value));
    }

    [Fact]
    public async Task A_workbook_says_the_same()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Birth);
        var (bytes, _, _) = await SentFiles.OfAsync("xlsx", "kind,record_number,relation,person_name,contact_phone,holds_custody\n"
            + "family_contact,H-1,foster_parent,Nora Berg,555 010 0300,true\n");
        Assert.Equal(["accepted"], await bed.OutcomesAsync(await bed.SendFileAsync(bytes, SubmissionFormat.Xlsx)));
        var best = (await FamilyAsync(bed)).BestToCall!;
        Assert.Equal(("Nora Berg", "555 010 0300"), (best.Name, best.Phone));
    }

    [Fact]
    public async Task Sent_again_it_changes_nothing_and_said_anew_it_holds_with_its_history()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Birth);
        var (first, second) = (Mother("555 010 0001"), Mother("555 010 0002"));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(await bed.SendAsync(first, at: bed.Now.AddDays(-9))));
        Assert.Equal(["unchanged"], await bed.OutcomesAsync(await bed.SendAsync(first, at: bed.Now.AddDays(-8))));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(await bed.SendAsync(second, at: bed.Now.AddDays(-7))));
        Assert.Equal("555 010 0002", (await FamilyAsync(bed)).BestToCall!.Phone);

        // Back to the first number: that is news, though it was said once.
        Assert.Equal(["accepted"], await bed.OutcomesAsync(await bed.SendAsync(first, at: bed.Now.AddDays(-6))));
        Assert.Equal("555 010 0001", (await FamilyAsync(bed)).BestToCall!.Phone);
        Assert.Equal(3, await bed.CountAsync("family_contacts where superseded_at is null"));

        // A dated statement is the same one however often it comes, and an old one does not hold over a newer.
        var dated = Mother("555 010 0003", "2026-10-01");
        Assert.Equal(["accepted"], await bed.OutcomesAsync(await bed.SendAsync(dated, at: bed.Now.AddDays(-5))));
        Assert.Equal(["unchanged"], await bed.OutcomesAsync(await bed.SendAsync(dated, at: bed.Now.AddDays(-4))));
        Assert.Equal("555 010 0001", (await FamilyAsync(bed)).BestToCall!.Phone);
    }

    [Fact]
    public async Task Taken_back_what_was_known_before_holds_again()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Birth);
        await bed.SendAsync(Mother("555 010 0001", "2026-11-01"));
        await bed.SendAsync(Mother("555 010 0009", "2026-11-02"));
        var retract = await bed.SendAsync(Mother("555 010 0009", "2026-11-02").Replace(",\n", ",retract\n", StringComparison.Ordinal)
            .Replace(",retract\nfamily", ",action\nfamily", StringComparison.Ordinal));
        Assert.Equal(["accepted"], await bed.OutcomesAsync(retract));
        Assert.Equal("555 010 0001", (await FamilyAsync(bed)).BestToCall!.Phone);
        Assert.Equal(2, await bed.CountAsync("family_contacts"));
        Assert.Equal(["family_contact retract"], await bed.ListAsync("select kind || ' ' || action from corrections"));
    }

    [Fact]
    public async Task A_stranger_s_statement_waits_and_opens_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Birth);
        await bed.SendAsync(Header + "family_contact,H-1,mother,,555 010 0300,,,,,1 Hidden Way,Harbour,,,,,,,,no,,\n");
        var infant = await InfantAsync(bed);

        var moor = await bed.AddSiteAsync("moor", SiteKind.AudiologyClinic);
        // Moor has nothing to do with the infant: what it says of its mother is a claim, and neither shown nor followed.
        var claim = await bed.SendAsync(
            "kind,birth_date,sex,mother_given_name,mother_family_name,mother_birth_date,relation,contact_phone,may_be_told\n"
            + "family_contact,2026-09-01,female,Ada,Marlow,1995-02-03,mother,555 010 0666,yes\n", moor);
        Assert.StartsWith("held", Assert.Single(await bed.OutcomesAsync(claim)), StringComparison.Ordinal);
        Assert.False((await FamilyAsync(bed)).MotherMayBeWrittenTo);
        Assert.Equal(["harbour"], await bed.ListAsync(
            $"select distinct s.code from infant_sites v join sites s on s.id = v.site_id where v.infant_id = '{infant}'"));
        using var clinic = await SignedIn.AsAsync(bed, Role.AudiologyClinic, moor);
        Assert.Equal(HttpStatusCode.NotFound, (await clinic.GetAsync($"/infants/{infant}", IntakeBed.Ct)).StatusCode);
        Assert.Equal(HttpStatusCode.NotFound, (await clinic.GetAsync($"/infants/{infant}/enter/family_contact", IntakeBed.Ct)).StatusCode);

        // Nor does the reader show it the rows, asked directly.
        var person = await bed.AddPersonAsync(Role.AudiologyClinic, moor);
        var viewer = new Viewer(person.Id, null, Role.AudiologyClinic, moor, "Clinic");
        await using var scope = bed.App.Services.CreateAsyncScope();
        await using var connection = await scope.ServiceProvider.GetRequiredService<ViewerDatabase>().OpenAsync(viewer, IntakeBed.Ct);
        foreach (var table in (string[])["family_contacts", "care"])
        {
            await using var count = new Npgsql.NpgsqlCommand($"select count(*) from {table}", connection);
            Assert.Equal(0L, await count.ExecuteScalarAsync(IntakeBed.Ct));
        }
    }

    [Fact]
    public async Task What_says_who_or_where_somebody_is_lies_encrypted_and_goes_with_an_erasure()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Birth);
        await bed.SendAsync(Header + "family_contact,H-1,foster_parent,Secretname,555 0190 777,,555 0190 778,,secret@example.test,Secretstreet,"
            + "Secretcity,LM,SECRET1,da,yes,phone,secret hours,yes,yes,2026-11-01,\n");
        await bed.SendAsync("kind,record_number,primary_care,primary_care_phone,insurance\ncare,H-1,Secretdoctor,555 0190 779,medicaid\n");
        foreach (var table in (string[])["family_contacts", "care"])
        {
            Assert.Equal(1, await bed.CountAsync(table));
            Assert.Equal(0, await bed.CountAsync($"{table} t where to_jsonb(t)::text ilike '%secret%' or to_jsonb(t)::text like '%0190%'"));
        }

        var infant = new InfantId(Guid.Parse(await InfantAsync(bed)));
        using (var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null))
        {
            // The family is given what is kept of it.
            var kept = await coordinator.GetStringAsync($"/infants/{infant}", IntakeBed.Ct);
            Assert.Contains("Secretstreet", kept, StringComparison.Ordinal);
        }

        var people = new List<Viewer>();
        foreach (var _ in (int[])[1, 2])
            people.Add(new((await bed.AddPersonAsync(Role.Coordinator)).Id, null, Role.Coordinator, null, "Coordinator"));
        Assert.Equal(ErasureAnswer.Asked,
            await WithAsync(bed, people[0], e => e.AskAsync(infant, ErasureReason.FamilyAsked, IntakeBed.Ct)));
        var request = Guid.Parse((await bed.ListAsync("select id from erasure_requests"))[0]);
        Assert.Equal(ErasureAnswer.Erased, await WithAsync(bed, people[1], e => e.EraseAsync(request, IntakeBed.Ct)));
        Assert.Equal(["foster_parent da"], await bed.ListAsync("select concat_ws(' ', kind, person_name, contact_phone, contact_phone_key, "
            + "other_phone, other_phone_key, contact_email, street, city, postal_code, residence_state, language, preferred_hours) from family_contacts"));
        Assert.Equal(["medicaid"], await bed.ListAsync("select concat_ws(' ', primary_care, primary_care_phone, insurance) from care"));
    }

    private static string Mother(string phone, string on = "") => Header + $"family_contact,H-1,mother,,{phone},,,,,,,,,,,,,,,{on},\n";

    private static async Task<string> InfantAsync(IntakeBed bed) =>
        (await bed.ListAsync("select infant_id from infant_identifiers where value = 'H-1'"))[0];

    private static async Task<FamilyNow> FamilyAsync(IntakeBed bed)
    {
        await using var connection = await bed.Source.OpenConnectionAsync(IntakeBed.Ct);
        var infant = new InfantId(Guid.Parse(await InfantAsync(bed)));
        return (await ReadFamilyNow.OfAsync(connection, [infant], IntakeBed.Ct))[infant];
    }

    private static async Task<T> WithAsync<T>(IntakeBed bed, Viewer viewer, Func<DecideErasure, Task<T>> act)
    {
        await using var scope = bed.App.Services.CreateAsyncScope();
        var p = scope.ServiceProvider;
        return await act(new(p.GetRequiredService<RegistryDb>(), bed.Source, p.GetRequiredService<PolicyStore>(),
            p.GetRequiredService<ProgramClock>(), p.GetRequiredService<AuditActs>(), viewer));
    }
}
