using Hl7.Fhir.Model;
using Microsoft.AspNetCore.OpenApi;
using Microsoft.OpenApi;
using Registry.Access;

namespace Registry.Fhir;

/// <summary>The FHIR R4 interface, under <c>/fhir</c>.</summary>
public static class FhirSetup
{
    public static IServiceCollection AddFhir(this IServiceCollection services) => services
        .AddSingleton<PostBundle>()
        .AddScoped<ReadRecord>();

    public static WebApplication MapFhir(this WebApplication app)
    {
        // Everything below must stay in this group: it is closed to whoever belongs to no site and is no coordinator.
        var fhir = app.MapGroup("/fhir").RequireAuthorization(Permissions.SubmitForSite).WithTags("FHIR R4").AddEndpointFilter<NegotiateContent>();
        Post(fhir.MapPost("", PostBundle.BundleAsync), "fhir_bundle", "Send a batch or transaction Bundle");
        Post(fhir.MapPost("Patient", PostBundle.PatientAsync), "fhir_post_patient", "Send one Patient");
        Post(fhir.MapPost("Observation", PostBundle.ObservationAsync), "fhir_post_observation", "Send one Observation");

        // What shows infants must say so, so that a read nobody recorded is not sent.
        var record = fhir.MapGroup("").WithMetadata(new ShowsInfantsAttribute()).AddEndpointFilter<RequireAudit>();
        Get(record.MapGet("Patient/{id}/$everything", ReadRecord.EverythingAsync), "fhir_everything", "Everything recorded of an infant");
        Get(record.MapGet("Patient/{id}", ReadRecord.OneAsync), "fhir_patient", "One Patient");
        Get(record.MapGet("RelatedPerson/{id}", ReadRecord.OneAsync), "fhir_related_person", "One RelatedPerson");
        Get(record.MapGet("Encounter/{id}", ReadRecord.OneAsync), "fhir_encounter", "One Encounter");
        Get(record.MapGet("Observation/{id}", ReadRecord.OneAsync), "fhir_observation", "One Observation");

        // Counts of the region: for signed-in people, as the measures API.
        Get(fhir.MapGet("Measure", EvaluateMeasure.ListAsync).RequireAuthorization(Permissions.Person), "fhir_measures", "The measures");
        Get(fhir.MapGet("Measure/{id}", EvaluateMeasure.OneAsync).RequireAuthorization(Permissions.Person), "fhir_measure", "One measure");
        Get(fhir.MapGet("Measure/{id}/$evaluate-measure", EvaluateMeasure.EvaluateAsync).RequireAuthorization(Permissions.Person),
            "fhir_evaluate_measure", "A MeasureReport for the births of a period");

        fhir.Map("{**rest}", () => FhirResult.Problem(404, OperationOutcome.IssueType.NotSupported, "there is no such interaction; GET /fhir/metadata lists them"))
            .ExcludeFromDescription();

        Get(app.MapGet("/fhir/metadata", DescribeCapabilities.Get).AllowAnonymous().WithTags("FHIR R4").AddEndpointFilter<NegotiateContent>(),
            "fhir_metadata", "The CapabilityStatement");
        return app;
    }

    private static void Post(RouteHandlerBuilder endpoint, string name, string summary) => endpoint.WithName(name).WithSummary(summary)
        .WithMetadata(new Intake.LimitedIntakeAttribute()).WithDescription("See docs/intake/fhir.md.").AddOpenApiOperationTransformer(DescribeBody)
        .Produces<object>(200, FhirResult.ContentType).Produces<object>(400, FhirResult.ContentType).Produces<object>(422, FhirResult.ContentType);

    /// <summary>Said to readers of the API document only: as a rule of routing it would answer before the sender is known.</summary>
    private static System.Threading.Tasks.Task DescribeBody(OpenApiOperation operation, OpenApiOperationTransformerContext context, CancellationToken cancel)
    {
        operation.RequestBody = new OpenApiRequestBody
        {
            Required = true,
            Content = new Dictionary<string, OpenApiMediaType> { [FhirResult.ContentType] = new() { Schema = new OpenApiSchema { Type = JsonSchemaType.Object } } },
        };
        return System.Threading.Tasks.Task.CompletedTask;
    }

    private static void Get(RouteHandlerBuilder endpoint, string name, string summary) => endpoint.WithName(name).WithSummary(summary)
        .Produces<object>(200, FhirResult.ContentType).Produces<object>(404, FhirResult.ContentType);
}
