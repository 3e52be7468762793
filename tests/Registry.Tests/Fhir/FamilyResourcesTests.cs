using Hl7.Fhir.Model;
using Hl7.Fhir.Specification.Source;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Tests.Intake;
using static Registry.Tests.Fhir.FhirBed;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Fhir;

/// <summary>What resources say of a family, valid against R4 on the way out, and the same when it comes in again elsewhere. Codes: v3
/// RoleCode, as the R4 specification that the Hl7.Fhir.Specification package carries has it.</summary>
[Collection(nameof(R4))]
public sealed class FamilyResourcesTests(TestDatabase database)
{
    private const string RoleCode = "http://terminology.hl7.org/CodeSystem/v3-RoleCode";

    private const string Stored = "select concat_ws(' ', kind, stated_on, phone_use, other_phone_use, residence_state, language, interpreter_needed, "
        + "preferred_channel, holds_custody, may_be_told, contact_phone_key is not null, other_phone_key, street is not null, "
        + "preferred_hours is not null, person_name is not null) from family_contacts where superseded_at is null order by 1";

    [Fact]
    public async Task A_bundle_brings_everybody_and_who_pays()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var patient = Patient("1");
        patient.Telecom.Add(new(ContactPoint.ContactPointSystem.Phone, ContactPoint.ContactPointUse.Mobile, "555 0101"));
        patient.Address.Add(new() { Line = ["1 Quay Rd"], City = "Harbour", District = "Lind", State = "LM", PostalCode = "0002" });
        patient.AddExtension("http://hl7.org/fhir/StructureDefinition/patient-interpreterRequired", new FhirBoolean(true));
        patient.GeneralPractitioner.Add(new() { Display = "Ilse Quist" });
        patient.GeneralPractitioner[0].AddExtension("urn:x-registry:field:primary_care_confirmed", new FhirBoolean(true));
        patient.Contact.Add(new()
        {
            Relationship = [new("http://terminology.hl7.org/CodeSystem/v2-0131", "S")],
            Organization = new() { Display = "Lind child protection" },
            Telecom = [new(ContactPoint.ContactPointSystem.Phone, ContactPoint.ContactPointUse.Work, "555 0400")],
        });
        var mother = Person("MTH", "Ada Marlow", "555 0101", "555 0102");
        mother.Communication.Add(new() { Language = new("urn:ietf:bcp:47", "es") });
        mother.AddExtension("urn:x-registry:field:interpreter_needed", new FhirBoolean(true));
        var foster = Person("MTHFOST", "Nora Berg", "555 0300");
        foster.AddExtension("urn:x-registry:field:holds_custody", new FhirBoolean(true));
        foster.AddExtension("urn:x-registry:field:preferred_channel", new Code("text_message"));
        var pays = new Coverage
        {
            Status = FinancialResourceStatusCodes.Active,
            Type = new() { Text = "medicaid" },
            Beneficiary = new(Urn(1)),
            Payor = [new() { Display = "Lind Health" }],
        };
        var bundle = Bundle(Hl7.Fhir.Model.Bundle.BundleType.Batch, (Urn(1), patient), (null, mother), (null, foster), (null, pays),
            (null, Person("PET", "Rex", "555 0001")));
        foreach (var entry in bundle.Entry) R4.AssertValid(entry.Resource!);
        var (_, answer) = await client.SendAsync(bundle);
        Assert.Equal(["201", "20", "201", "201", "200"], Entries(answer).Zip([3, 2, 3, 3, 3]).Select(e => e.First[..e.Second]));
        Assert.Equal(
            ["agency work", "foster_parent mobile text_message t", "mother es t", "self LM t"],
            await bed.ListAsync("select concat_ws(' ', kind, phone_use, language, residence_state, interpreter_needed, preferred_channel, "
                + "holds_custody) from family_contacts order by 1"));
        // The mother's first telephone is the birth's, and is not said twice.
        Assert.Equal(["t t"], await bed.ListAsync("select concat_ws(' ', contact_phone is null, other_phone is not null) from family_contacts "
            + "where kind = 'mother'"));
        Assert.Equal(["medicaid", "t"], await bed.ListAsync("select concat_ws(' ', insurance, primary_care_confirmed) from care order by 1"));
    }

    [Fact]
    public async Task What_is_recorded_goes_out_valid_and_comes_in_again_as_the_same()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(
            """
            {"rows":[
            {"kind":"birth","record_number":"4711","birth_date":"2026-11-02","sex":"female","mother_given_name":"Ada","mother_family_name":"Marlow","mother_birth_date":"1995-02-03","contact_phone":"555 0101"},
            {"kind":"family_contact","record_number":"4711","relation":"father","person_name":"Tom Marlow","contact_phone":"555 0200","phone_use":"mobile","other_phone":"555 0201","other_phone_use":"work","contact_email":"tom@example.test","street":"1 Quay Rd","city":"Harbour","residence_state":"LM","postal_code":"0001","language":"da","interpreter_needed":true,"preferred_channel":"text_message","preferred_hours":"after 17:00","holds_custody":true,"may_be_told":true,"stated_on":"2026-11-03"},
            {"kind":"family_contact","record_number":"4711","relation":"agency","person_name":"Lind child protection","contact_phone":"555 0400","phone_use":"work","stated_on":"2026-11-04"},
            {"kind":"family_contact","record_number":"4711","relation":"mother","may_be_told":false,"stated_on":"2026-11-05"},
            {"kind":"care","record_number":"4711","primary_care":"Dr. Berg","primary_care_phone":"555 0500","primary_care_confirmed":true,"stated_on":"2026-11-05"},
            {"kind":"care","record_number":"4711","insurance":"medicaid","stated_on":"2026-11-06"}]}
            """, format: SubmissionFormat.Json);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var id = (await bed.ListAsync("select id from infants"))[0];
        var (status, body) = await client.ReadAsync($"/fhir/Patient/{id}/$everything");
        Assert.Equal(200, status);
        var everything = (Bundle)body;
        foreach (var entry in everything.Entry)
        {
            R4.AssertValid(entry.Resource!);
            var (found, one) = await client.ReadAsync(new Uri(entry.FullUrl!).AbsolutePath);
            Assert.Equal((200, Json(entry.Resource!)), (found, Json(one)));
        }

        Assert.Single(everything.Entry.Select(e => e.Resource).OfType<Coverage>());
        Assert.Equal("Dr. Berg", everything.Entry.Select(e => e.Resource).OfType<Patient>().Single().GeneralPractitioner.Single().Display);

        await using var other = await IntakeBed.StartAsync(database);
        using var sender = await other.FhirClientAsync(other.Harbour);
        var again = Bundle(Hl7.Fhir.Model.Bundle.BundleType.Batch, everything.Entry.Select(e => (e.FullUrl, e.Resource!)));
        var (_, answer) = await sender.SendAsync(again);
        Assert.All(Entries(answer), e => Assert.StartsWith("2", e, StringComparison.Ordinal));
        Assert.Equal(await bed.ListAsync(Stored), await other.ListAsync(Stored));
        Assert.Equal(["t t t"], await other.ListAsync(
            "select concat_ws(' ', primary_care is not null, primary_care_phone is not null, primary_care_confirmed) from care where primary_care is not null"));
        await sender.SendAsync(again);
        Assert.Equal(await bed.ListAsync(Stored), await other.ListAsync(Stored));

        // Another site's eyes: not there.
        using var hill = await bed.FhirClientAsync(bed.Hill);
        foreach (var entry in everything.Entry.Where(e => e.Resource is Coverage or RelatedPerson))
            Assert.Equal(404, (await hill.ReadAsync(new Uri(entry.FullUrl!).AbsolutePath)).Status);
    }

    [Fact]
    public void Every_role_that_is_understood_is_one_of_RoleCode()
    {
        var codes = Roles();
        Assert.True(codes.Count > 100);
        Assert.DoesNotContain(FamilyCodes.OfRoleCode, c => !codes.ContainsKey(c));
        foreach (var (code, name) in new[] { ("MTH", "mother"), ("FTH", "father"), ("PRN", "parent"), ("GUARD", "guardian"),
            ("PRNFOST", "foster parent"), ("GRPRN", "grandparent"), ("EXT", "extended family member"), ("ONESELF", "self") })
            Assert.Equal(name, codes[code]);
        foreach (var relation in Enum.GetValues<FamilyRelation>().Where(r => r != FamilyRelation.Agency))
            Assert.Equal(relation, FamilyCodes.OfRole(FamilyCodes.RoleOf(relation)));
    }

    private static Dictionary<string, string?> Roles()
    {
        var system = (CodeSystem)ZipSource.CreateValidationSource().ResolveByCanonicalUri(RoleCode)!;
        var found = new Dictionary<string, string?>();
        void Walk(IEnumerable<CodeSystem.ConceptDefinitionComponent> concepts)
        {
            foreach (var concept in concepts)
            {
                found[concept.Code!] = concept.Display;
                Walk(concept.Concept);
            }
        }

        Walk(system.Concept);
        return found;
    }

    private static RelatedPerson Person(string role, string name, params string[] phones) => new()
    {
        Patient = new(Urn(1)),
        Relationship = [new(RoleCode, role)],
        Name = [new() { Family = name.Split(' ')[1..].FirstOrDefault() ?? name, Given = [name.Split(' ')[0]] }],
        Telecom = [.. phones.Select(p => new ContactPoint(ContactPoint.ContactPointSystem.Phone, ContactPoint.ContactPointUse.Mobile, p))],
    };
}
