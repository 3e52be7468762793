using Hl7.Fhir.Model;
using Microsoft.Extensions.Options;
using Registry.Platform;
using MeasureReport = Registry.Reporting.Measures.MeasureReport;

namespace Registry.Fhir;

/// <summary><c>GET /fhir/metadata</c>: what this interface does, and no more than it does.</summary>
public static class DescribeCapabilities
{
    public static IResult Get(HttpContext http, IOptions<ProgramOptions> options) => new FhirResult(200, new CapabilityStatement
    {
        Status = PublicationStatus.Active,
        Date = "2026-11-25",
        Kind = CapabilityStatementKind.Instance,
        FhirVersion = FHIRVersion.N4_0_1,
        Format = ["application/fhir+json", "json"],
        Software = new() { Name = options.Value.Name, Version = MeasureReport.ProgramVersion },
        Implementation = new() { Description = $"{options.Value.Name}, {options.Value.Region}", Url = ReadRecord.BaseOf(http) },
        Rest =
        [
            new()
            {
                Mode = CapabilityStatement.RestfulCapabilityMode.Server,
                Documentation = "Births, hearing screens and their corrections come in; an infant's record and the program's measures go "
                    + "out. A refer is not a diagnosis; a pass does not exclude later hearing loss.",
                Security = new()
                {
                    Service = [new("http://terminology.hl7.org/CodeSystem/restful-security-service", "SMART-on-FHIR")],
                    Description = "A site key as Authorization: Bearer; or the token that a system which signs is given, as "
                        + ".well-known/smart-configuration says; or a signed-in person. Each sees its own site's infants.",
                },
                Resource =
                [
                    Of(ResourceType.Patient, CapabilityStatement.TypeRestfulInteraction.Create,
                        CapabilityStatement.TypeRestfulInteraction.Read),
                    Of(ResourceType.Observation, CapabilityStatement.TypeRestfulInteraction.Create,
                        CapabilityStatement.TypeRestfulInteraction.Read),
                    Of(ResourceType.RelatedPerson, CapabilityStatement.TypeRestfulInteraction.Read),
                    Of(ResourceType.Coverage, CapabilityStatement.TypeRestfulInteraction.Read),
                    Of(ResourceType.Encounter, CapabilityStatement.TypeRestfulInteraction.Read),
                    Of(ResourceType.Measure, CapabilityStatement.TypeRestfulInteraction.Read,
                        CapabilityStatement.TypeRestfulInteraction.SearchType),
                ],
                Interaction =
                [
                    new() { Code = CapabilityStatement.SystemRestfulInteraction.Batch },
                    new()
                    {
                        Code = CapabilityStatement.SystemRestfulInteraction.Transaction,
                        Documentation = "POST of Patient, RelatedPerson, Observation, Encounter, Device, Procedure and Coverage. "
                            + "What would have to wait for a person is refused.",
                    },
                ],
            },
        ],
    });

    private static CapabilityStatement.ResourceComponent Of(ResourceType type,
        params CapabilityStatement.TypeRestfulInteraction[] interactions)
    {
        var resource = new CapabilityStatement.ResourceComponent
        {
            Type = type.ToString(),
            Interaction = [.. interactions.Select(i => new CapabilityStatement.ResourceInteractionComponent { Code = i })],
        };
        switch (type)
        {
            case ResourceType.Patient:
                resource.ConditionalCreate = true;
                resource.Operation.Add(
                    new() { Name = "everything", Definition = "http://hl7.org/fhir/OperationDefinition/Patient-everything" });
                break;
            case ResourceType.Measure:
                resource.Operation.Add(
                    new() { Name = "evaluate-measure", Definition = "http://hl7.org/fhir/OperationDefinition/Measure-evaluate-measure" });
                break;
        }

        return resource;
    }
}
