using System.Net;
using System.Text;
using Hl7.Fhir.Model;
using Registry.Tests.Intake;
using static Registry.Tests.Fhir.FhirBed;
using BundleType = Hl7.Fhir.Model.Bundle.BundleType;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Fhir;

/// <summary>What a batch, a transaction and a single resource do, over HTTP. Semantics of R4 (http.html, bundle.html).</summary>
[Collection(nameof(R4))]
public sealed class PostBundleTests(TestDatabase database)
{
    [Fact]
    public async Task In_a_transaction_the_order_of_entries_does_not_matter()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var plurality = new Observation
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, "57722-1"),
            Subject = new(Urn(1)),
            Value = new Integer(1)
        };
        var mother = new RelatedPerson
        {
            Patient = new(Urn(1)),
            Relationship = [new("http://terminology.hl7.org/CodeSystem/v3-RoleCode", "MTH")],
            Name = [new() { Family = "Marlow" }],
        };
        var admission = new Encounter
        {
            Status = Encounter.EncounterStatus.Finished,
            Class = new("http://terminology.hl7.org/CodeSystem/v3-ActCode", "IMP"),
            Subject = new(Urn(1)),
            Period = new() { Start = "2026-11-20", End = "2026-11-23" },
        };
        var test = Result(Urn(1));
        test.Encounter = new(Urn(2));
        var (status, body) = await client.SendAsync(
            Bundle(BundleType.Transaction, (null, test), (null, plurality), (Urn(2), admission), (null, mother), (Urn(1), Patient("1"))));
        Assert.Equal((200, BundleType.TransactionResponse), (status, ((Bundle)body).Type));
        Assert.Equal(["201", "200", "200", "200", "201"], Entries(body));
        Assert.Equal("1 Marlow 2026-11-23",
            (await bed.ListAsync("select concat_ws(' ', plurality, mother_family_name, discharged_on) from births"))[0]);
        Assert.Equal("birth_admission", (await bed.ListAsync("select stage from screenings"))[0]);
    }

    [Fact]
    public async Task A_transaction_applies_whole_or_not_at_all()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);

        // One unknown answer.
        var (status, body) = await client.SendAsync(
            Bundle(BundleType.Transaction, (Urn(1), Patient("1")), (null, Result(Urn(1))), (null, Result(Urn(1), "LA1"))));
        Assert.Equal(422, status);
        Assert.Equal("Bundle.entry[2].resource.value", ((OperationOutcome)body).Issue.Single(
            i => !i.Diagnostics!.Contains("not applied", StringComparison.Ordinal)).Expression.Single());

        // One row that a batch would hold: its infant is not known.
        (status, body) = await client.SendAsync(
            Bundle(BundleType.Transaction, (Urn(1), Patient("1")), (null, Result("Patient?identifier=urn:x-test|404"))));
        Assert.Equal(422, status);
        Assert.Contains(Issues(body), i => i.Contains("would be held (no_such_infant)", StringComparison.Ordinal));

        // One entry that cannot be read at all.
        (status, body) = await client.SendAsync(Json(Bundle(BundleType.Transaction, (Urn(1), Patient("1")), (null, Result(Urn(1)))))
            .Replace("\"final\"", "\"finished\"", StringComparison.Ordinal));
        Assert.Equal((400, "Bundle.entry[1].resource.status"), (status, ((OperationOutcome)body).Issue[0].Expression.Single()));

        Assert.Equal((0, 0, 0), (await bed.CountAsync("infants"), await bed.CountAsync("screenings"), await bed.CountAsync("held_rows")));
        Assert.Equal(["done 5 5", "refused 0 0"], await bed.ListAsync(
            "select concat_ws(' ', state, sum(row_count), sum(rejected)) from submissions group by state order by state"));

        // The same as a batch: what is sound is recorded, the rest waits or is rejected.
        (_, body) = await client.SendAsync(
            Bundle(BundleType.Batch, (Urn(1), Patient("1")), (null, Result("Patient?identifier=urn:x-test|404")),
            (null, Result(Urn(1), "LA1"))));
        Assert.Equal(["201", "202", "422"], Entries(body).Select(e => e[..3]));
        Assert.Equal((1, 1), (await bed.CountAsync("infants"), await bed.CountAsync("held_rows")));
    }

    [Fact]
    public async Task A_transaction_that_did_not_apply_can_be_sent_again_and_rows_apply_once()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var bundle = Bundle(BundleType.Transaction, (Urn(1), Patient("1")), (null, Result(Urn(1))));
        Assert.Equal(["201", "201"], Entries((await client.SendAsync(bundle)).Body));
        Assert.Equal(["200", "200"], Entries((await client.SendAsync(bundle)).Body));
        client.DefaultRequestHeaders.Add("Idempotency-Key", "k");
        var first = await client.SendAsync(bundle);
        Assert.Equal(Json(first.Body), Json((await client.SendAsync(bundle)).Body));
        Assert.Equal(422, (await client.SendAsync(Bundle(BundleType.Batch, (null, Patient("2"))))).Status);
        Assert.Equal((3, 1, 1), (await bed.CountAsync("submissions"), await bed.CountAsync("infants"), await bed.CountAsync("screenings")));
    }

    [Fact]
    public async Task A_conditional_create_finds_none_one_or_several()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        const string One = "identifier=urn:x-test|1", Both = "identifier=urn:x-test|1,urn:x-registry:card-id|C2";
        Assert.Equal(201, (await client.SendAsync(Patient("1"), "/fhir/Patient", One)).Status);

        // Known: 200, and what else the Patient says changes nothing.
        var renamed = Patient("1");
        renamed.Name.Add(new() { Family = "Other" });
        Assert.Equal(200, (await client.SendAsync(renamed, "/fhir/Patient", One)).Status);
        Assert.Equal(0, await bed.CountAsync("births where infant_family_name is not null"));

        Assert.Equal(201, (await client.SendAsync(Patient("2", "2026-11-19", "C2"), "/fhir/Patient",
            "identifier=urn:x-registry:card-id|C2")).Status);
        var (status, body) = await client.SendAsync(Patient("1", card: "C2"), "/fhir/Patient", Both);
        Assert.Equal((412, "request.ifNoneExist"), (status, ((OperationOutcome)body).Issue[0].Expression.Single()));
        Assert.Equal(422, (await client.SendAsync(Patient("3"), "/fhir/Patient", One)).Status);
        Assert.Equal(422, (await client.SendAsync(Patient("3"), "/fhir/Patient", "birthdate=2026-11-20")).Status);
        Assert.Equal(2, await bed.CountAsync("infants"));

        // In a transaction a test follows its Patient to the infant that is known.
        var bundle = Bundle(BundleType.Transaction, (Urn(1), Patient("1")), (null, Result(Urn(1))));
        bundle.Entry[0].Request!.IfNoneExist = One;
        Assert.Equal(["200", "201"], Entries((await client.SendAsync(bundle)).Body));
    }

    [Fact]
    public async Task Of_many_conditional_creates_at_once_one_creates()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var answers = await Task.WhenAll(
            Enumerable.Range(0, 8).Select(_ => client.SendAsync(Patient("1", card: "C1"), "/fhir/Patient", "identifier=urn:x-test|1")));
        Assert.Equal([200, 200, 200, 200, 200, 200, 200, 201], answers.Select(a => a.Status).Order());
        Assert.Equal((1, 1), (await bed.CountAsync("infants"), await bed.CountAsync("births")));
    }

    [Fact]
    public async Task A_corrected_result_replaces_and_one_entered_in_error_is_taken_back()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        await client.SendAsync(Bundle(BundleType.Batch, (Urn(1), Patient("1")), (null, Result(Urn(1)))));
        var subject = $"Patient/{(await bed.ListAsync("select id from infants"))[0]}";

        // Another result of the same test contradicts, until it says that it corrects.
        var other = Result(subject, "LA10393-9");
        Assert.Equal(202, (await client.SendAsync(other, "/fhir/Observation")).Status);
        other.Status = ObservationStatus.Corrected;
        Assert.Equal(201, (await client.SendAsync(other, "/fhir/Observation")).Status);
        Assert.Equal(["refer"], await bed.ListAsync("select outcome from screenings where superseded_at is null"));

        other.Status = ObservationStatus.EnteredInError;
        other.Value = null;
        Assert.Equal(200, (await client.SendAsync(other, "/fhir/Observation")).Status);
        Assert.Equal((0, 2), (await bed.CountAsync("screenings where superseded_at is null"), await bed.CountAsync("screenings")));
        other.Status = ObservationStatus.Registered;
        Assert.Equal((422, "Observation.status: action: must be final, preliminary, amended, corrected or entered-in-error"),
            (await client.SendAsync(other, "/fhir/Observation")) is var (status, body) ? (status, Issues(body)[0]) : default);
    }

    [Fact]
    public async Task An_infant_of_another_site_is_as_good_as_none()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var harbour = await bed.FhirClientAsync(bed.Harbour);
        using var hill = await bed.FhirClientAsync(bed.Hill);
        await harbour.SendAsync(Patient("1"), "/fhir/Patient");
        var subject = $"Patient/{(await bed.ListAsync("select id from infants"))[0]}";
        var (status, body) = await hill.SendAsync(Result(subject), "/fhir/Observation");
        Assert.Equal((422, "Observation.subject: there is no such Patient, or it is not yours to see"), (status, Issues(body)[0]));
        Assert.Equal(201, (await harbour.SendAsync(Result(subject), "/fhir/Observation")).Status);
        Assert.Equal(403, (await hill.SendAsync(Patient("2"), "/fhir?site=harbour")).Status);
    }

    [Fact]
    public async Task A_patient_seen_as_an_outpatient_is_no_birth_of_the_site()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var harbour = await bed.FhirClientAsync(bed.Harbour);
        using var hill = await bed.FhirClientAsync(bed.Hill);
        var mother = new RelatedPerson
        {
            Patient = new(Urn(1)),
            Relationship = [new("http://terminology.hl7.org/CodeSystem/v3-RoleCode", "MTH")],
            Name = [new() { Family = "Marlow" }],
        };
        await harbour.SendAsync(Bundle(BundleType.Batch, (Urn(1), Patient("1", card: "C1")), (null, mother)));
        var visit = new Encounter
        {
            Status = Encounter.EncounterStatus.Finished,
            Class = new("http://terminology.hl7.org/CodeSystem/v3-ActCode", "AMB"),
            Subject = new(Urn(1))
        };
        var test = Result(Urn(1));
        test.Encounter = new(Urn(2));
        var (_, body) = await hill.SendAsync(Bundle(
            BundleType.Batch, (Urn(1), Patient("H-9", card: "C1")), (Urn(2), visit), (null, test), (null, mother)));
        Assert.Equal(["200", "200", "201"], Entries(body).Take(3).Select(e => e[..3]));
        Assert.Equal("outpatient_rescreen", (await bed.ListAsync("select stage from screenings"))[0]);
        Assert.Equal(1, await bed.CountAsync("births"));
    }

    [Theory]
    [InlineData("application/fhir+xml", "<Bundle/>", 415)]
    [InlineData("text/plain", "{}", 415)]
    [InlineData("application/fhir+json; charset=iso-8859-1", "{}", 415)]
    [InlineData("application/fhir+json", "", 400)]
    [InlineData("application/fhir+json", "[]", 400)]
    [InlineData("application/fhir+json", "null", 400)]
    [InlineData("application/fhir+json", "{}{}", 400)]
    [InlineData("application/fhir+json", "{\"resourceType\":\"Bundle\",\"type\":\"bat", 400)]
    [InlineData("application/fhir+json", "{\"resourceType\":\"Patient\",\"gender\":\"male\"}", 400)]
    [InlineData("application/fhir+json", "{\"resourceType\":\"Bundle\",\"type\":\"collection\"}", 400)]
    [InlineData("application/fhir+json", "{\"resourceType\":\"Bundle\",\"type\":\"batch\",\"entry\":{}}", 400)]
    [InlineData("application/fhir+json", "{\"resourceType\":\"Bundle\",\"language\":\"\\ud800\",\"type\":\"batch\"}", 400)]
    public async Task What_cannot_be_used_is_answered_with_an_operation_outcome(string type, string text, int expected)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        using var content = new ByteArrayContent(Encoding.UTF8.GetBytes(text));
        content.Headers.ContentType = System.Net.Http.Headers.MediaTypeHeaderValue.Parse(type);
        using var answer = await client.PostAsync("/fhir", content, IntakeBed.Ct);
        Assert.Equal(expected, (int)answer.StatusCode);
        Assert.IsType<OperationOutcome>(await ReadAsync(answer));
    }

    [Fact]
    public async Task Size_depth_and_entries_have_their_limits_and_xml_is_not_spoken()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        Assert.Equal(413, (await client.SendAsync(
            "{\"resourceType\":\"Bundle\",\"language\":\"" + new string('x', 8 * 1024 * 1024) + "\"}")).Status);
        var deep = string.Concat(Enumerable.Repeat("{\"url\":\"x\",\"extension\":[", 60)) + string.Concat(Enumerable.Repeat("]}", 60));
        Assert.Equal(400, (await client.SendAsync("{\"resourceType\":\"Bundle\",\"type\":\"batch\",\"extension\":[" + deep + "]}")).Status);
        var (status, body) = await client.SendAsync(
            Bundle(BundleType.Batch, Enumerable.Range(0, 1_001).Select(i => ((string?)null, (Resource)Patient($"{i}")))));
        Assert.Equal((400, "Bundle.entry: has 1001 entries; send at most 1000 at once"), (status, Issues(body)[0]));
        Assert.Equal(0, await bed.CountAsync("infants"));
        Assert.Equal([], Entries((await client.SendAsync(new Bundle { Type = BundleType.Batch })).Body));

        using var request = new HttpRequestMessage(HttpMethod.Get, "/fhir/metadata");
        request.Headers.Accept.ParseAdd("application/fhir+xml");
        using var answer = await client.SendAsync(request, IntakeBed.Ct);
        Assert.Equal(HttpStatusCode.NotAcceptable, answer.StatusCode);
    }

    [Fact]
    public async Task Long_texts_many_problems_and_odd_names_are_cut_short()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var (_, body) = await client.SendAsync(
            Bundle(BundleType.Batch, (Urn(1), Patient(new string('9', 100_000))), (null, Result(Urn(1)))));
        Assert.Equal("422 Bundle.entry[0].resource.identifier: record_number: is longer than 2000 characters", Entries(body)[0][..86]);
        var names = string.Join(',', Enumerable.Range(0, 2_000).Select(i => $"\"x{i}\\u0000\\u0007{new string('y', 300)}\":1"));
        (_, body) = await client.SendAsync(
            "{\"resourceType\":\"Bundle\",\"type\":\"batch\",\"entry\":[{\"resource\":{\"resourceType\":\"Patient\"," + names + "}}]}");
        Assert.Equal(("400", 50), (((Bundle)body).Entry[0].Response!.Status, Issues(((Bundle)body).Entry[0].Response!.Outcome).Count));
        foreach (var path in new[] { "/fhir/Condition", "/fhir/Patient/1/_history" })
            Assert.Equal(404, (await client.ReadAsync(path)).Status);
    }

    [Fact]
    public async Task A_thousand_entries_are_one_answer()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var (status, body) = await client.SendAsync(Bundle(BundleType.Transaction,
            Enumerable.Range(0, 500).SelectMany(i => new (string?, Resource)[] { (Urn(i), Patient($"{i}")), (null, Result(Urn(i))) })));
        Assert.Equal(200, status);
        Assert.All(Entries(body), e => Assert.Equal("201", e));
        Assert.Equal((500, 500), (await bed.CountAsync("infants"), await bed.CountAsync("screenings")));
    }

    [Fact]
    public async Task Nobody_sends_without_a_key()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var nobody = bed.App.CreateClient(new() { AllowAutoRedirect = false });
        using var content = new StringContent("{}", Encoding.UTF8, "application/fhir+json");
        foreach (var answer in new[] { await nobody.PostAsync("/fhir", content, IntakeBed.Ct),
            await nobody.GetAsync("/fhir/Measure", IntakeBed.Ct), await nobody.GetAsync("/fhir/Patient/1", IntakeBed.Ct) })
            Assert.Equal(HttpStatusCode.Unauthorized, answer.StatusCode);
    }
}
