using Hl7.Fhir.Model;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Tests.Intake;
using Registry.Tests.Reporting.Measures;
using static Registry.Tests.Fhir.FhirBed;
using BundleType = Hl7.Fhir.Model.Bundle.BundleType;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Fhir;

/// <summary>What is only tried stores nothing, and what was refused as a whole is never applied in part.</summary>
[Collection(nameof(R4))]
public sealed class TryBundleTests(TestDatabase database)
{
    private const string Stored =
        "(select count(*) from submissions) || ' ' || (select count(*) from submission_rows) || ' ' || (select count(*) from infants) || "
        + "' ' || (select count(*) from screenings)";

    [Fact]
    public async Task A_dry_run_says_of_every_entry_what_would_become_of_it_and_stores_nothing()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var batch = Bundle(BundleType.Batch, (Urn(1), Patient("1")), (null, Result(Urn(1))),
            (null, Result("Patient?identifier=urn:x-test|404")), (null, Result(Urn(1), "LA1")));
        var (status, body) = await client.SendAsync(batch, "/fhir?dry_run=true");
        Assert.Equal((200, BundleType.BatchResponse), (status, ((Bundle)body).Type));
        Assert.Equal(
        [
            "201 Bundle.entry[0].resource: would be recorded",
            "201 Bundle.entry[1].resource: would be recorded",
            "202 Bundle.entry[2].resource: held (no_such_infant): kept whole and not applied",
            "422 Bundle.entry[3].resource.value: outcome: no known code: an answer of LOINC 54109-4 / 54108-6 or its SNOMED CT code, "
                + "looked up by code and system",
        ], Entries(body));
        Assert.All(((Bundle)body).Entry, e => Assert.Null(e.Response!.Location));
        Assert.Equal("0 0 0 0", (await bed.ListAsync($"select {Stored}"))[0]);

        // In earnest it does what was said; tried again it says so.
        Assert.Equal(["201", "201", "202", "422"], Entries((await client.SendAsync(batch, "/fhir?dry_run=false")).Body)
            .Select(e => e[..3]));
        (_, body) = await client.SendAsync(batch, "/fhir?dry_run=true");
        Assert.Equal(["200 Bundle.entry[0].resource: recorded already", "200 Bundle.entry[1].resource: recorded already"],
            Entries(body)[..2]);
        Assert.Equal("1 4 1 1", (await bed.ListAsync($"select {Stored}"))[0]);
        Assert.Equal(400, (await client.SendAsync(batch, "/fhir?dry_run=maybe")).Status);
    }

    [Fact]
    public async Task A_transaction_is_tried_as_a_whole()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var (status, body) = await client.SendAsync(Bundle(BundleType.Transaction, (Urn(1), Patient("1")), (null, Result(Urn(1)))),
            "/fhir?dry_run=true");
        Assert.Equal((200, BundleType.TransactionResponse, 2),
            (status, ((Bundle)body).Type, Entries(body).Count(e => e.EndsWith("would be recorded", StringComparison.Ordinal))));
        (status, body) = await client.SendAsync(
            Bundle(BundleType.Transaction, (Urn(1), Patient("1")), (null, Result("Patient?identifier=urn:x-test|404"))),
            "/fhir?dry_run=true");
        Assert.Equal(422, status);
        Assert.Contains(Issues(body), i => i.Contains("would be held (no_such_infant)", StringComparison.Ordinal));
        (status, body) = await client.SendAsync(Bundle(BundleType.Transaction, (Urn(1), Patient("1")), (null, Result(Urn(1), "LA1"))),
            "/fhir?dry_run=true");
        Assert.Equal((422, 2), (status, Issues(body).Count));
        Assert.Equal(400, (await client.SendAsync("{\"resourceType\":\"Bundle\",\"type\":\"bat", "/fhir?dry_run=true")).Status);
        Assert.Equal("0 0 0 0", (await bed.ListAsync($"select {Stored}"))[0]);
    }

    [Fact]
    public async Task One_resource_is_tried_too()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var (status, body) = await client.SendAsync(Patient("1"), "/fhir/Patient?dry_run=true", "identifier=urn:x-test|1");
        Assert.Equal((201, "Patient: would be recorded"), (status, Issues(body)[0]));
        (status, body) = await client.SendAsync(Result("Patient?identifier=urn:x-test|1"), "/fhir/Observation?dry_run=true");
        Assert.Equal((202, "0 0 0 0"), (status, (await bed.ListAsync($"select {Stored}"))[0]));
        await client.SendAsync(Patient("1"), "/fhir/Patient");
        (status, body) = await client.SendAsync(Patient("1"), "/fhir/Patient?dry_run=true", "identifier=urn:x-test|1");
        Assert.Equal((200, "Patient: recorded already"), (status, Issues(body)[0]));
    }

    [Fact]
    public async Task Rows_of_a_refused_transaction_wait_for_nobody_and_cannot_be_decided_one_by_one()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        Assert.Equal(422, (await client.SendAsync(
            Bundle(BundleType.Transaction, (Urn(1), Patient("1")), (null, Result(Urn(1))), (null, Result(Urn(1), "LA1"))))).Status);
        await AssertNothingCanBeDecidedAsync(bed, 3);
        Assert.Equal((0, 0), (await bed.CountAsync("infants"), await bed.CountAsync("screenings")));

        // Those of a batch wait, and are decided.
        await client.SendAsync(Bundle(BundleType.Batch, (Urn(1), Patient("1")), (null, Result(Urn(1), "LA1"))));
        Assert.Equal(1, await bed.CountAsync("submission_rows where outcome = 'rejected' and discarded_at is null"));
    }

    [Fact]
    public async Task A_row_with_a_condition_that_was_rejected_is_not_asked_again_without_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        await client.SendAsync(Patient("1"), "/fhir/Patient");
        await client.SendAsync(Patient("2", "2026-11-19", "C2"), "/fhir/Patient");
        Assert.Equal(412, (await client.SendAsync(Patient("1", card: "C2"), "/fhir/Patient",
            "identifier=urn:x-test|1,urn:x-registry:card-id|C2")).Status);
        Assert.Equal(422, (await client.SendAsync(Patient("3"), "/fhir/Patient", "birthdate=2026-11-20")).Status);
        await AssertNothingCanBeDecidedAsync(bed, 2);
        Assert.Equal(2, await bed.CountAsync("infants"));
    }

    [Fact]
    public async Task What_is_wrong_with_an_element_no_column_states_is_not_lost_by_asking_again()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var died = Patient("1");
        died.Deceased = new FhirBoolean(true);
        Assert.Equal(422, (await client.SendAsync(died, "/fhir/Patient")).Status);
        await AssertNothingCanBeDecidedAsync(bed, 1);
        Assert.Equal(0, await bed.CountAsync("infants"));
    }

    private static async Task AssertNothingCanBeDecidedAsync(IntakeBed bed, int rows)
    {
        var person = await bed.AddPersonAsync(Role.Coordinator);
        var decide = bed.App.Services.GetRequiredService<DecideRow>();
        var rejected = await bed.ListAsync(
            "select submission_id || ' ' || row_number from submission_rows where outcome = 'rejected' order by 1");
        Assert.Equal(rows, rejected.Count);
        foreach (var row in rejected.Select(r => r.Split(' ')))
        {
            var (id, number) = (new SubmissionId(Guid.Parse(row[0])), int.Parse(row[1], System.Globalization.CultureInfo.InvariantCulture));
            Assert.NotNull(await decide.AskAgainAsync(id, number, new(person.Id), IntakeBed.Ct));
            Assert.NotNull((await decide.CorrectAsync(id, number, f =>
                new Dictionary<Field, string>(f) { [Field.Sex] = "male" }, new(person.Id), IntakeBed.Ct)).Refusal);
        }

        Assert.Equal(0, await bed.CountAsync("submission_rows where outcome in ('held', 'rejected') and discarded_at is null"));
        Assert.Equal(0, await bed.CountAsync("row_changes"));
    }
}
