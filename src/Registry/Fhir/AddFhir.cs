using Hl7.Fhir.Model;
using Microsoft.AspNetCore.OpenApi;
using Microsoft.OpenApi;
using Registry.Access;
using Registry.Intake.Receiving;

namespace Registry.Fhir;

/// <summary>The FHIR R4 interface, under <c>/fhir</c>.</summary>
public static class FhirSetup
{
    public static IServiceCollection AddFhir(this IServiceCollection services) => services
        .AddSingleton<PostBundle>()
        .AddSingleton<AnswerPost>()
        .AddScoped<ReadRecord>();

    public static WebApplication MapFhir(this WebApplication app)
    {
        // Everything below asks for a permission of its own; the fallback is closed to every key.
        var fhir = app.MapGroup("/fhir").WithTags("FHIR R4").AddEndpointFilter<NegotiateContent>();
        var send = fhir.MapGroup("").RequireAuthorization(Permissions.SubmitForSite);
        Post(send.MapPost("", PostBundle.BundleAsync), "fhir_bundle", "Send a batch or transaction Bundle");
        Post(send.MapPost("Patient", PostBundle.PatientAsync), "fhir_post_patient", "Send one Patient", 201, 202);
        Post(send.MapPost("Observation", PostBundle.ObservationAsync), "fhir_post_observation", "Send one Observation", 201, 202);

        // What shows infants must say so, so that a read nobody recorded is not sent.
        var record = fhir.MapGroup("").RequireAuthorization(Permissions.ReadRecords)
            .WithMetadata(new ShowsInfantsAttribute()).AddEndpointFilter<RequireAudit>();
        Get(record.MapGet("Patient/{id}/$everything", ReadRecord.EverythingAsync), "fhir_everything", "Everything recorded of an infant");
        Get(record.MapGet("Patient/{id}", ReadRecord.OneAsync), "fhir_patient", "One Patient");
        Get(record.MapGet("RelatedPerson/{id}", ReadRecord.OneAsync), "fhir_related_person", "One RelatedPerson");
        Get(record.MapGet("Encounter/{id}", ReadRecord.OneAsync), "fhir_encounter", "One Encounter");
        Get(record.MapGet("Coverage/{id}", ReadRecord.OneAsync), "fhir_coverage", "One Coverage");
        Get(record.MapGet("Observation/{id}", ReadRecord.OneAsync), "fhir_observation", "One Observation");

        // Counts of the region: for signed-in people, as the measures API.
        var counts = send.MapGroup("").RequireAuthorization(Permissions.SeeInfants);
        Get(counts.MapGet("Measure", EvaluateMeasure.ListAsync), "fhir_measures", "The measures");
        Get(counts.MapGet("Measure/{id}", EvaluateMeasure.OneAsync), "fhir_measure", "One measure");
        Get(counts.MapGet("Measure/{id}/$evaluate-measure", EvaluateMeasure.EvaluateAsync),
            "fhir_evaluate_measure", "A MeasureReport for the births of a period");

        send.Map("{**rest}", () =>
            FhirResult.Problem(404, OperationOutcome.IssueType.NotSupported, "there is no such interaction; GET /fhir/metadata lists them"))
            .ExcludeFromDescription();

        Get(app.MapGet("/fhir/metadata", DescribeCapabilities.Get).AllowAnonymous().WithTags("FHIR R4")
            .AddEndpointFilter<NegotiateContent>(),
            "fhir_metadata", "The CapabilityStatement");
        app.MapGet("/fhir/.well-known/smart-configuration", DescribeTokens.Get).AllowAnonymous().WithTags("FHIR R4")
            .WithName("smart_configuration").WithSummary("Where a system that signs is given a token").Produces<SmartConfiguration>();
        return app;
    }

    /// <summary>What any request with a body may be answered; what is wrong before a FHIR answer can be made (no key, no right, too many)
    /// is problem+json.</summary>
    private static void Post(RouteHandlerBuilder endpoint, string name, string summary, params int[] answers)
    {
        endpoint.WithName(name).WithSummary(summary)
            .WithMetadata(new LimitedIntakeAttribute()).WithDescription("See docs/intake/fhir.md.")
                .AddOpenApiOperationTransformer(DescribeBody);
        foreach (var status in (int[])[200, .. answers, 400, 403, 406, 409, 412, 413, 415, 422, 503])
            endpoint.Produces<object>(status, FhirResult.ContentType);
        endpoint.ProducesProblem(401).ProducesProblem(429);
    }

    /// <summary>Said to readers of the API document only: as a rule of routing it would answer before the sender is known.</summary>
    private static System.Threading.Tasks.Task DescribeBody(OpenApiOperation operation, OpenApiOperationTransformerContext context,
        CancellationToken ct)
    {
        operation.Parameters ??= [];
        foreach (var (name, place, says) in new[]
        {
            ("site", ParameterLocation.Query, "Code of the site the rows come from; a site's key may leave it out."),
            ("dry_run", ParameterLocation.Query, "true: say what would become of every entry, and store nothing."),
            ("Idempotency-Key", ParameterLocation.Header, "Sent again with the same key, the same bytes are not processed twice."),
        })
            operation.Parameters.Add(
                new OpenApiParameter
                {
                    Name = name,
                    In = place,
                    Description = says,
                    Schema = new OpenApiSchema { Type = JsonSchemaType.String }
                });
        operation.RequestBody = new OpenApiRequestBody
        {
            Required = true,
            Content = new Dictionary<string, OpenApiMediaType>
            {
                [FhirResult.ContentType] = new() { Schema = new OpenApiSchema { Type = JsonSchemaType.Object } },
            },
        };
        return System.Threading.Tasks.Task.CompletedTask;
    }

    private static void Get(RouteHandlerBuilder endpoint, string name, string summary) => endpoint.WithName(name).WithSummary(summary)
        .Produces<object>(200, FhirResult.ContentType).Produces<object>(404, FhirResult.ContentType);
}
