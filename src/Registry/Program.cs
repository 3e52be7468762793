using Registry;
using Registry.Access;
using Registry.Accounts;
using Registry.Benchmarks;
using Registry.Demo;
using Registry.Fhir;
using Registry.FollowUp;
using Registry.Infants;
using Registry.Intake;
using Registry.Operations;
using Registry.Outreach;
using Registry.Platform;
using Registry.Platform.Database;
using Registry.Platform.Jobs;
using Registry.PolicyChanges;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Reporting;
using Registry.SiteQuality;
using Registry.Ui;

// The table of contents: one line per capability. Each has a folder beside this file with a README.
var builder = WebApplication.CreateBuilder(args);
builder.AddPlatform();
if (DemoPeople.IsDemonstration(builder.Configuration)) builder.Configuration.AddInMemoryCollection(DemoPeople.Settings());

if (await OperationsVerbs.ReadKeysAsync(builder, args) is { } ended) return ended;
await using var database = await ChooseDatabase.StartAsync(builder.Configuration, Console.WriteLine, CancellationToken.None);
builder.Services.AddRecords(database.ConnectionString);
builder.Services.AddPolicyVersions();
builder.Services.AddAccess(builder.Configuration);
builder.Services.AddUi();
builder.Services.AddAccounts(builder.Configuration);
builder.Services.AddInfants();
builder.Services.AddBenchmarks();
builder.Services.AddIntake();
builder.Services.AddSiteQuality();
builder.Services.AddFollowUp();
builder.Services.AddOutreach();
builder.Services.AddJobs(builder.Configuration, database.ConnectionString);
builder.Services.AddOperations(builder.Configuration);
builder.Services.AddReporting();
builder.Services.AddFhir();
builder.Services.AddPolicyChanges();

await using var app = builder.Build();
app.UsePlatform();
app.UseUi();
app.MapAccess();
app.MapIntake();
app.MapOperations();
app.MapReporting();
app.MapFhir();
app.MapOpenApi().AllowAnonymous();
app.MapRazorPages();

return await Verbs.RunAsync(app, args);

/// <summary>Public so that tests can host the program.</summary>
public sealed partial class Program;
