using Registry.Platform;
using Registry.Policies;
using Registry.Infants;
using Registry.Records;

var builder = WebApplication.CreateBuilder(args);
builder.Services.AddRecords("Host=x");
builder.Services.AddSingleton<ProgramClock>().AddSingleton<PolicyStore>().AddSingleton<StatusSource>();
builder.Build().Run();
