using Microsoft.AspNetCore.OpenApi;
using Microsoft.OpenApi;
using Registry.Access;
using Registry.Reporting.Export;
using Registry.Reporting.Measures;
using Registry.Reporting.Publication;
using Registry.Rules.Facts;
using Registry.Rules.Measures;

namespace Registry.Reporting;

/// <summary>Measures, published reports and the full export.</summary>
public static class ReportingSetup
{
    public static IServiceCollection AddReporting(this IServiceCollection services) => services
        .AddSingleton<ReadMeasuredInfants>()
        .AddSingleton<KeepFigures>()
        .AddSingleton<ComputeMeasures>()
        .AddSingleton<CountVitalBirths>()
        .AddScoped<ExportFacts>()
        .AddScoped<ExtractDeidentified>()
        .AddScoped<ReadQuestion>()
        .AddSingleton<ListMethods>()
        .AddScoped<ShowReport>()
        .AddScoped<ListReportInfants>()
        .AddScoped<PublishReport>()
        .AddScoped<ReadPublishedReports>();

    public static WebApplication MapReporting(this WebApplication app)
    {
        app.MapGet("/api/v1/measures", GetMeasures.GetAsync).RequireAuthorization(Permissions.SeeCounts)
            .WithName("GetMeasures").WithTags("Measures")
            .Produces<MeasureReport>().ProducesValidationProblem()
            .WithSummary("Every measure for the births of a period, as JSON or CSV").WithDescription("See docs/measures.")
            .AddOpenApiOperationTransformer(DescribeQuery);

        // Must stay with coordinators: an export holds every infant of the region.
        app.MapGet("/api/v1/export/{what}", ExportFacts.GetAsync).RequireAuthorization(Permissions.Coordinator)
            .WithMetadata(new ShowsInfantsAttribute()).AddEndpointFilter<RequireAudit>()
            .WithName("Export").WithTags("Measures")
            .WithSummary("All facts, or all derived statuses, as of any day, as NDJSON or CSV");
        return app;
    }

    /// <summary>The query is read by <see cref="MeasureRequest.Read"/>, for the page and the API alike; the API document is told
    /// here.</summary>
    private static Task DescribeQuery(OpenApiOperation operation, OpenApiOperationTransformerContext context, CancellationToken ct)
    {
        foreach (var (name, description) in new[]
        {
            ("from", "First birth date; by default 1 January of the as-of year."),
            ("to", "Last birth date; by default the end of the year of from, or the as-of date."),
            ("asOf", "Nothing that happened later counts; by default today, for a release its one day."),
            ("knownAt", "A date or an instant: nothing recorded later counts; by default the end of the as-of day."),
            ("breakdown", $"One of {string.Join(", ", Codes.All<Breakdown>())}."),
            ("vitalBirths", "Births in vital records, for the second percentage of screened."),
            ("release", "true: a year's figures as they may leave the registry."),
            ("format", "json, csv, or survey (the national survey as one sheet, CSV); by default what Accept asks for."),
        })
            (operation.Parameters ??= []).Add(new OpenApiParameter
            {
                Name = name,
                In = ParameterLocation.Query,
                Description = description,
                Schema = new OpenApiSchema { Type = JsonSchemaType.String },
            });
        return Task.CompletedTask;
    }
}
