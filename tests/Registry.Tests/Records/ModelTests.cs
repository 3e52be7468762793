using Microsoft.EntityFrameworkCore;
using Microsoft.Extensions.DependencyInjection;
using Registry.Records;

namespace Registry.Tests.Records;

/// <summary>What the code says of the tables, wherever it says it, is what the migrations made.</summary>
public sealed class ModelTests(TestDatabase database)
{
    [Fact]
    public async Task The_tables_described_in_code_are_the_migrated_ones()
    {
        await using var app = await RegistryApp.StartAsync(database);
        await using var scope = app.Services.CreateAsyncScope();
        Assert.False(scope.ServiceProvider.GetRequiredService<RegistryDb>().Database.HasPendingModelChanges(),
            "A record or its configuration changed: add a migration.");
    }
}
