using Hl7.Fhir.Model;
using Microsoft.Extensions.DependencyInjection;
using Registry.Intake.HeldRows;
using Registry.Records;
using Registry.Tests.Intake;
using static Registry.Tests.Fhir.FhirBed;
using BundleType = Hl7.Fhir.Model.Bundle.BundleType;
using Task = System.Threading.Tasks.Task;

namespace Registry.Tests.Fhir;

/// <summary>What the status of a resource does (R4, observation-status and event-status), and what a rejected row keeps.</summary>
[Collection(nameof(R4))]
public sealed class StatusTests(TestDatabase database)
{
    [Theory]
    [InlineData(ObservationStatus.Amended)]
    [InlineData(ObservationStatus.Corrected)]
    public async Task An_amended_and_a_corrected_result_replace(ObservationStatus status)
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        await client.SendAsync(Bundle(BundleType.Batch, (Urn(1), Patient("1")), (null, Result(Urn(1)))));
        var other = Result("Patient?identifier=urn:x-test|1", "LA10393-9");
        other.Status = status;
        other.Component.Add(new() { Code = new("urn:x-registry:field", "bands"), Value = new FhirString("2000:8:-6") });
        Assert.Equal(201, (await client.SendAsync(other, "/fhir/Observation")).Status);
        Assert.Equal(["refer"], await bed.ListAsync("select outcome from screenings where superseded_at is null"));
        Assert.Equal(["2000"], await bed.ListAsync(
            "select b.frequency_hz from screening_bands b join screenings s on s.id = b.screening_id where s.superseded_at is null"));
    }

    [Fact]
    public async Task A_procedure_entered_in_error_takes_back_what_was_not_done()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var procedure = new Procedure
        {
            Status = EventStatus.NotDone,
            Code = new(Loinc, "54111-0"),
            Subject = new(Urn(1)),
            StatusReason = new("http://snomed.info/sct", "183948000"),
            Performed = new FhirDateTime("2026-11-22"),
        };
        await client.SendAsync(Bundle(BundleType.Batch, (Urn(1), Patient("1")), (null, procedure)));
        Assert.Equal(["left declined", "right declined"], await bed.ListAsync(
            "select concat_ws(' ', ear, reason) from screenings order by ear"));

        procedure.Subject = new("Patient?identifier=urn:x-test|1");
        procedure.Status = EventStatus.EnteredInError;
        procedure.BodySite = [new("http://snomed.info/sct", "89644007")];
        Assert.Equal(["200"], Entries((await client.SendAsync(Bundle(BundleType.Batch, (null, procedure)))).Body));
        Assert.Equal(["right declined"],
            await bed.ListAsync("select concat_ws(' ', ear, reason) from screenings where superseded_at is null"));

        // Without its time nothing says which: refused, not passed over.
        procedure.Performed = null;
        Assert.Equal(["422 Bundle.entry[0].resource.performed: performed_at: is required"],
            Entries((await client.SendAsync(Bundle(BundleType.Batch, (null, procedure)))).Body));
        Assert.Equal(1, await bed.CountAsync("screenings where superseded_at is null"));
    }

    [Fact]
    public async Task A_risk_entered_in_error_is_taken_back_by_its_answer()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        Observation Risk(string subject, string? answer) => new()
        {
            Status = ObservationStatus.Final,
            Code = new(Loinc, "58232-0"),
            Subject = new(subject),
            Effective = new FhirDateTime("2026-11-21"),
            Value = answer is null ? null : new CodeableConcept(Loinc, answer),
        };
        await client.SendAsync(
            Bundle(BundleType.Batch, (Urn(1), Patient("1")), (null, Risk(Urn(1), "LA6172-6")), (null, Risk(Urn(1), "LA12669-0"))));
        var wrong = Risk("Patient?identifier=urn:x-test|1", "LA6172-6");
        wrong.Status = ObservationStatus.EnteredInError;
        Assert.Equal(200, (await client.SendAsync(wrong, "/fhir/Observation")).Status);
        Assert.Equal(["ecmo"], await bed.ListAsync("select kind from risks where superseded_at is null"));

        // Which indicator was wrong, only its answer says: none is taken back by guess, and the sender is told.
        wrong.Value = null;
        var (status, body) = await client.SendAsync(wrong, "/fhir/Observation");
        Assert.Equal((422, "Observation.value: is required: it says which indicator is taken back; repeat the answer that was entered in "
            + "error"), (status, Issues(body)[0]));
        Assert.Equal(1, await bed.CountAsync("risks where superseded_at is null"));
    }

    [Fact]
    public async Task What_stands_beside_a_result_and_is_entered_in_error_is_not_taken()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var duration = new Observation
        {
            Status = ObservationStatus.EnteredInError,
            Code = new(Loinc, "73743-7"),
            Subject = new(Urn(1)),
            Value = new Quantity(90, "s")
        };
        var (_, body) = await client.SendAsync(Bundle(BundleType.Batch, (Urn(1), Patient("1")), (null, Result(Urn(1))), (null, duration)));
        Assert.Equal(["201", "201", "200 Bundle.entry[2].resource.status: is entered in error: the result beside it was taken without it"],
            Entries(body));
        Assert.Equal((1, 0), (await bed.CountAsync("screenings"), await bed.CountAsync("screening_details")));
    }

    [Fact]
    public async Task A_rejected_row_keeps_what_was_sent_for_whoever_corrects_it()
    {
        await using var bed = await IntakeBed.StartAsync(database);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        await client.SendAsync(Patient("1"), "/fhir/Patient");
        var test = Result("Patient?identifier=urn:x-test|1", "LA1");
        test.Method = new("urn:x-local", "X9");
        test.BodySite = new("http://snomed.info/sct", "89644007");
        Assert.Equal(422, (await client.SendAsync(test, "/fhir/Observation")).Status);
        using var file = await client.GetAsync($"/api/v1/submissions/{(await bed.ListAsync("select submission_id from submission_rows where outcome = 'rejected'"))[0]}/rejected", IntakeBed.Ct);
        var row = (await file.Content.ReadAsStringAsync(IntakeBed.Ct)).Split('\n')[1];
        Assert.Contains(",\"right, http://snomed.info/sct|89644007\",http://loinc.org|LA1,urn:x-local|X9,", row, StringComparison.Ordinal);

        // Asked again it is rejected as it was: a contradiction is not settled by asking.
        var person = await bed.AddPersonAsync(Registry.Records.Role.Coordinator);
        var id = new SubmissionId(
            Guid.Parse((await bed.ListAsync("select submission_id from submission_rows where outcome = 'rejected'"))[0]));
        var refusal = await bed.App.Services.GetRequiredService<DecideRow>().AskAgainAsync(id, 1, new(person.Id), IntakeBed.Ct);
        Assert.StartsWith("Still rejected. Ear", HeldRowWords.Of(refusal!), StringComparison.Ordinal);
    }
}
