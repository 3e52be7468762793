using Microsoft.OpenApi;
using Registry.Access;
using Registry.Intake.Applying;
using Registry.Intake.HeldRows;
using Registry.Intake.HeldRows.Bulk;
using Registry.Intake.Mappings;
using Registry.Intake.Mllp;
using Registry.Intake.Raw;
using Registry.Intake.Receiving;
using Registry.Intake.Submissions;
using Registry.Intake.Typing;
using Registry.Platform.Jobs;

namespace Registry.Intake;

public static class IntakeSetup
{
    public static IServiceCollection AddIntake(this IServiceCollection services)
    {
        services.AddOptions<IntakeOptions>().BindConfiguration("Intake").ValidateDataAnnotations().ValidateOnStart();
        services.Configure<Microsoft.AspNetCore.Mvc.RazorPages.RazorPagesOptions>(
            pages => pages.Conventions.AddPageRoute("/Intake/Mappings/Mapping", "/submissions/mappings/{id:guid}"));
        services.AddSingleton<LimitIntake>();
        services.AddRateLimiter(_ => { });
        services.AddOptions<Microsoft.AspNetCore.RateLimiting.RateLimiterOptions>().Configure<LimitIntake>((limits, intake) =>
        {
            limits.GlobalLimiter = intake.Limiter;
            limits.OnRejected = LimitIntake.RefuseAsync;
        });
        services.AddSingleton<FindSite>();
        services.AddSingleton<LimitStorage>();
        services.AddSingleton<ReceiveSubmission>();
        services.AddSingleton<ShareCommit>();
        services.AddSingleton<TryRows>();
        services.AddSingleton<SlowUnmatched>();
        services.AddSingleton<Submit>();
        services.AddSingleton<SubmitRows>();
        services.AddSingleton<AnswerRequest>();
        services.AddSingleton<SubmitMessages>();
        services.AddSingleton<AnswerMessages>();
        services.AddSingleton<AcknowledgeSubmission>();
        services.AddSingleton<SaveMapping>();
        services.AddSingleton<ReadMappings>();
        services.AddSingleton<PreviewMapping>();
        services.AddSingleton<ProcessSubmission>();
        services.AddSingleton<RetryHeldRows>();
        services.AddSingleton<SweepSubmissions>();
        services.AddSingleton<ReadSubmissions>();
        services.AddSingleton(RecurringJob.Of<SweepSubmissions>(
            "sweep-submissions", "Submissions and waiting rows left behind", "* * * * *", j =>
                j.RunAsJobAsync(CancellationToken.None), atStart: true));
        services.AddSingleton<PurgeRefused>();
        services.AddSingleton(RecurringJob.Of<PurgeRefused>(
            "purge-refused", "Bytes of files refused long ago", "45 3 * * *", j => j.RunAsync(CancellationToken.None)));
        services.AddSingleton<ListSubmissions>();
        services.AddSingleton<DecideRow>();
        services.AddSingleton<TakeBackDecision>();
        services.AddSingleton<ListWaitingRows>();
        services.AddSingleton<CountWaitingThen>();
        services.AddSingleton<ChooseRows>();
        services.AddSingleton<StartBulkDecision>();
        services.AddSingleton<DecideInBulk>();
        services.AddSingleton<TryBulkCorrection>();
        services.AddSingleton<ReadRowChanges>();
        services.AddSingleton<ReadWaitingRow>();
        services.AddSingleton<ReadBulkDecision>();
        services.AddSingleton<FindCandidates>();
        services.AddSingleton<FindConflict>();
        services.AddSingleton<FindWaitingBirths>();
        services.AddSingleton(new FormerJobName("Registry.Intake.ProcessSubmission", typeof(ProcessSubmission)));
        services.AddSingleton(new FormerJobName("Registry.Intake.DecideTogether", typeof(DecideInBulk)));
        services.AddSingleton(new FormerJobName("Registry.Intake.HeldRows.Bulk.DecideTogether", typeof(DecideInBulk)));
        services.AddTyping();
        services.AddMllp();
        return services;
    }

    private static void AddTyping(this IServiceCollection services)
    {
        services.Configure<Microsoft.AspNetCore.Mvc.RazorPages.RazorPagesOptions>(
            pages => pages.Conventions.AddPageRoute("/Intake/Typing/Enter", "/infants/new"));
        services.Configure<RouteOptions>(routes => routes.ConstraintMap["family"] = typeof(FamilyKind));
        services.AddScoped<TypeRows>();
        services.AddScoped<CorrectFact>();
        services.AddScoped<FindEntry>();
        services.AddSingleton<RememberInstrument>();
        services.AddSingleton<RememberEvaluation>();
        services.AddSingleton<ListWard>();
        services.AddSingleton<LockDevice>();
    }

    public static WebApplication MapIntake(this WebApplication app)
    {
        // After the sender is known, before any body is read.
        var limits = app.Services.GetRequiredService<LimitIntake>();
        app.Use((http, next) =>
        {
            limits.Tell(http);
            return next(http);
        });
        app.UseRateLimiter();
        app.Use(ReceiveInTime.RunAsync);

        // Everything below must stay in this group: it is closed to whoever may submit for no site.
        var api = app.MapGroup("/api/v1/submissions").RequireAuthorization(Permissions.SubmitForSite).WithTags("Submissions");
        api.MapPost("", SubmitRows.PostAsync).WithMetadata(new LimitedIntakeAttribute())
            .Produces<SubmissionAnswer>().Produces<SubmissionAnswer>(202)
            .ProducesProblem(400).ProducesProblem(403).ProducesProblem(408).ProducesProblem(409).ProducesProblem(413).ProducesProblem(415)
                .ProducesProblem(422).ProducesProblem(429).ProducesProblem(503).ProducesProblem(507)
            .WithName("submit").WithSummary("Send births, tests and other rows")
                .WithDescription("Answers when the rows are committed. See docs/intake.")
            .AddOpenApiOperationTransformer((operation, _, _) =>
            {
                operation.RequestBody = new OpenApiRequestBody
                {
                    Required = true,
                    Description = "Rows: a CSV file or a workbook with a header row, one JSON object with an array of rows, one JSON "
                        + "object after another, HL7 v2 messages, or a fixed-width file of vital records. With dry_run=true the answer "
                        + "says what would become of each row, and nothing is stored.",
                    Content = new Dictionary<string, OpenApiMediaType>
                    {
                        ["text/csv"] = new() { Schema = new OpenApiSchema { Type = JsonSchemaType.String } },
                        ["application/json"] = new() { Schema = new OpenApiSchema { Type = JsonSchemaType.Object } },
                        [ContentTypes.Hl7V2] = new() { Schema = new OpenApiSchema { Type = JsonSchemaType.String } },
                        [ContentTypes.Xlsx] = new() { Schema = new OpenApiSchema { Type = JsonSchemaType.String, Format = "binary" } },
                        ["text/plain"] = new() { Schema = new OpenApiSchema { Type = JsonSchemaType.String } },
                        [ContentTypes.Ndjson] = new() { Schema = new OpenApiSchema { Type = JsonSchemaType.String } },
                    },
                };
                return Task.CompletedTask;
            });
        api.MapGet("{id}", FollowSubmission.StatusAsync).Produces<SubmissionStatus>().ProducesProblem(404)
            .WithName("submission").WithSummary("The state of a submission");
        api.MapGet("{id}/acknowledgement", SubmitMessages.AgainAsync).Produces<string>(200, ContentTypes.Hl7V2).ProducesProblem(404)
            .ProducesProblem(409)
            .WithName("submission_acknowledgement").WithSummary("The answers to the HL7 v2 messages of a submission");
        api.MapGet("{id}/rows", FollowSubmission.RowsAsync).Produces<RowPage>().ProducesProblem(400).ProducesProblem(404)
            .WithName("submission_rows").WithSummary("What became of each row");
        api.MapGet("{id}/rejected", FollowSubmission.RejectedAsync).Produces<string>(200, "text/csv").ProducesProblem(404)
            .WithMetadata(new ShowsInfantsAttribute()).AddEndpointFilter<RequireAudit>()
            .WithName("submission_rejected").WithSummary("The rejected rows as CSV, to be corrected and sent again as they are");
        return app;
    }
}
