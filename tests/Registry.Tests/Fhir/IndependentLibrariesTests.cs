using Registry.Tests.Architecture;
using Registry.Tests.Intake;
using Registry.Tests.Intake.Formats.Hl7V2;

namespace Registry.Tests.Fhir;

/// <summary>
/// A client of another maker (npm <c>fhir-kit-client</c>) sends and reads over a socket, and a validator of a third (npm <c>fhir</c>,
/// built from the R4 definitions) looks at every answer. A fourth (npm <c>@i4mi/fhir_r4</c>) builds a Bundle with its entries.
/// </summary>
[Collection(nameof(R4))]
public sealed class IndependentLibrariesTests(TestDatabase database)
{
    [Fact]
    public async Task Another_makers_client_sends_and_reads_and_a_third_finds_every_answer_valid()
    {
        await using var bed = await IntakeBed.StartAsync(database, listen: true);
        using var client = await bed.FhirClientAsync(bed.Harbour);
        var lines = await NodeTool.RunAsync(
            SourceTree.Root, "exchange.mjs", [new Uri(new Uri(bed.App.Address), "fhir").ToString(),
                client.DefaultRequestHeaders.Authorization!.Parameter!], IntakeBed.Ct, "fhir");
        Assert.Equal(
            [
                "metadata | CapabilityStatement | valid | true | true",
                "transaction | Bundle | valid | 201,201,201",
                "everything | Bundle | valid | Patient,Observation,Observation",
                "entry | Patient | valid",
                "entry | Observation | valid",
                "entry | Observation | valid",
                "batch | Bundle | valid | 201,202,422",
                "built | Bundle | valid | true | 201,201,201",
                "created | OperationOutcome | valid | 201",
                "known | OperationOutcome | valid | 200",
                "nobody | OperationOutcome | valid | 404",
            ], lines);
    }
}
