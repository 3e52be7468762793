using Hl7.Fhir.Model;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Reporting.Measures;
using static Registry.Tests.Fhir.FhirBed;
using BundleType = Hl7.Fhir.Model.Bundle.BundleType;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Fhir;

/// <summary>What goes out: valid against R4, for the right eyes only, and the same when it comes in again elsewhere.</summary>
[Collection(nameof(R4))]
public sealed class RecordTests(TestDatabase database)
{
    private const string Rows =
        """
        {"rows":[
        {"kind":"birth","record_number":"4711","card_id":"BS-1","birth_date":"2026-11-02","birth_time":"04:41","sex":"female","plurality":2,"birth_order":1,"gestation_weeks":39,
         "birth_weight_g":3240,"discharged_on":"2026-11-05","infant_given_name":"Mia","infant_family_name":"Marlow","mother_given_name":"Ada","mother_family_name":"Marlow",
         "mother_birth_date":"1995-02-03","county":"Lind","language":"Danish","contact_email":"ada@example.test","contact_phone":"555-0101","post_discharge_provider":"Dr. Ilse Quist"},
        {"kind":"screening","record_number":"4711","ear":"right","outcome":"refer","method":"aabr","performed_at":"2026-11-03T09:15","stage":"birth_admission","instrument":"AB-17",
         "probe":"P-3","screener":"S9"},
        {"kind":"screening","record_number":"4711","ear":"left","outcome":"no_valid_result","reason":"no_seal","method":"dpoae","performed_at":"2026-11-03T09:20:30",
         "stimulus":"65/55","duration_seconds":12.5,"artefacts_rejected":4,"ear_canal_volume_ml":0.4,"ambient_noise_db":61,"bands":"2000:8.1:-6.2:14.3;3000:5:-9"},
        {"kind":"screening","record_number":"4711","ear":"left","outcome":"not_performed","reason":"medical_exclusion","performed_at":"2026-11-04T00:00"},
        {"kind":"screening","record_number":"4711","ear":"right","outcome":"not_performed","reason":"discharged_before_screen","performed_at":"2026-11-05T10:00"},
        {"kind":"risk","record_number":"4711","indicator":"family_history"},
        {"kind":"risk","record_number":"4711","indicator":"congenital_cmv"},
        {"kind":"diagnosis","record_number":"4711","evaluated_on":"2026-11-20","right_finding":"sensorineural","right_degree":"moderate","left_finding":"normal",
         "evaluator":"E2","evaluation_place":"Room 3","behavioral_method":"visual_reinforcement","air_transducer":"insert_earphones","right_air":"500:45;1000:50m;2000:>110","left_air":"125:10;500:5",
         "right_bone":"500:40m","sound_field":"1000:20","right_abr":"click:60;2000:55","abr_scale":"ehl","abr_correction":"the clinic's table","right_tympanogram_high":"peaked",
         "left_emissions":"present","emissions_method":"dpoae","permanent":true,"next_evaluation_on":"2026-12-20"},
        {"kind":"refusal","record_number":"4711","step":"intervention","refused_on":"2026-11-21","revoked_on":"2026-11-22"},
        {"kind":"contact","record_number":"4711","step":"diagnosis","attempted_on":"2026-11-10","contact_outcome":"reached"},
        {"kind":"intervention","record_number":"4711","event":"referred","happened_on":"2026-11-21"},
        {"kind":"death","record_number":"4711","died_on":"2026-11-24"}]}
        """;

    [Theory]
    [InlineData("UTC")]
    [InlineData("America/New_York")]
    public async Task Everything_of_an_infant_is_valid_and_comes_in_again_as_the_same_facts(string zone)
    {
        var settings = new Dictionary<string, string?> { ["Program:TimeZone"] = zone };
        await using var bed = await IntakeBed.StartAsync(database, settings);
        await bed.SendAsync(Rows, format: SubmissionFormat.Json);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var id = (await bed.ListAsync("select id from infants"))[0];
        var (status, body) = await client.ReadAsync($"/fhir/Patient/{id}/$everything");
        Assert.Equal(200, status);
        var everything = (Bundle)body;
        Assert.Equal((BundleType.Searchset, "Patient RelatedPerson Encounter", 17),
            (everything.Type, string.Join(' ', everything.Entry.Take(3).Select(e => e.Resource!.TypeName)), everything.Entry.Count));

        // Each resource can be read where it says it is.
        foreach (var entry in everything.Entry)
        {
            R4.AssertValid(entry.Resource!);
            var (found, one) = await client.ReadAsync(new Uri(entry.FullUrl!).AbsolutePath);
            Assert.Equal((200, Json(entry.Resource!)), (found, Json(one)));
        }

        // Another registry takes what it can take in: births, tests, risks, evaluations with all their tests, the death.
        await using var other = await IntakeBed.StartAsync(database, settings);
        using var sender = await other.FhirClientAsync(other.Harbour);
        var again = Bundle(BundleType.Batch, everything.Entry.Select(e => (e.FullUrl, e.Resource!)));
        var (_, answer) = await sender.SendAsync(again);
        Assert.Equal(3, Entries(answer).Count(e => e.StartsWith("422", StringComparison.Ordinal)));
        Assert.DoesNotContain(Entries(answer), e => e[0] != '2' && !e.Contains("no known code", StringComparison.Ordinal));
        foreach (var table in new[] { "births", "screenings", "risks", "diagnoses", "deaths" })
        {
            // What is encrypted is never twice the same; the keyed hash beside it is.
            var sql = "select (to_jsonb(t) - 'id' - 'infant_id' - 'site_id' - 'submission_id' - 'row_number' - 'recorded_at' "
                + $"- 'contact_email' - 'contact_phone' - 'post_discharge_provider')::text from {table} t order by 1";
            Assert.Equal(await bed.ListAsync(sql), await other.ListAsync(sql));
        }

        const string Tests = "select (to_jsonb(d) - 'diagnosis_id')::text from evaluation_details d";
        var tests = await bed.ListAsync(Tests);
        Assert.Equal(tests, await other.ListAsync(Tests));
        Assert.Contains("500:45;1000:50m;2000:>110", Assert.Single(tests), StringComparison.Ordinal);
        Assert.Equal(await bed.ListAsync("select kind || value from infant_identifiers order by 1"),
            await other.ListAsync("select kind || value from infant_identifiers order by 1"));
        Assert.All(Entries((await sender.SendAsync(again)).Body), e => Assert.False(e.StartsWith("201", StringComparison.Ordinal), e));
    }

    [Fact]
    public async Task An_infant_is_shown_to_its_site_and_the_coordinators_and_every_read_is_recorded()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        await bed.SendAsync(Rows, format: SubmissionFormat.Json);
        var id = (await bed.ListAsync("select id from infants"))[0];
        var test = (await bed.ListAsync("select id from screenings limit 1"))[0];
        using var harbour = await bed.FhirClientAsync(bed.Harbour);
        using var hill = await bed.FhirClientAsync(bed.Hill);
        var coordinator = await SignedIn.AsAsync(bed, Role.Coordinator, null);
        foreach (var client in new[] { harbour, coordinator })
            Assert.Equal(200, (await client.ReadAsync($"/fhir/Patient/{id}/$everything")).Status);
        Assert.Equal(["GET /fhir/Patient/{id}/$everything key", "GET /fhir/Patient/{id}/$everything person"],
            await bed.ListAsync($"select action || case when person_id is null then ' key' else ' person' end from access_records where "
                + $"infant_id = '{id}' order by 1"));

        foreach (var path in new[] { $"Patient/{id}/$everything", $"Patient/{id}", $"Observation/{test}" })
            Assert.Equal(404, (await hill.ReadAsync("/fhir/" + path)).Status);
        foreach (var path in new[] { "Patient/1", "Patient/" + test, "Observation/" + id, "Observation/x", $"Observation/{test}-right" })
            Assert.Equal(404, (await harbour.ReadAsync("/fhir/" + path)).Status);
        Assert.Equal(400, (await harbour.ReadAsync($"/fhir/Patient/{id}/$everything?_since=2026-01-01")).Status);
        Assert.Equal("3", (await bed.ListAsync("select count(*) from access_records where kind = 'read' and action like 'GET /fhir%'"))[0]);
    }

    [Fact]
    public async Task The_statement_of_capabilities_is_open_and_valid()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var nobody = bed.App.CreateClient();
        var (status, body) = await nobody.ReadAsync("/fhir/metadata");
        var statement = (CapabilityStatement)body;
        Assert.Equal((200, FHIRVersion.N4_0_1), (status, statement.FhirVersion));
    }

    [Fact]
    public void The_validator_does_find_what_is_wrong()
    {
        var wrong = new Observation { Status = ObservationStatus.Final };
        Assert.ThrowsAny<Xunit.Sdk.XunitException>(() => R4.AssertValid(wrong));
        Assert.ThrowsAny<Xunit.Sdk.XunitException>(
            () => R4.AssertValid(new Patient { Contact = [new() { Gender = AdministrativeGender.Male }] }));
    }
}
