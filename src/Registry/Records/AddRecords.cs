using Microsoft.EntityFrameworkCore;
using Npgsql;

namespace Registry.Records;

public static class RecordsSetup
{
    /// <summary>One data source for EF Core and for SQL.</summary>
    public static IServiceCollection AddRecords(this IServiceCollection services, string connectionString)
    {
        services.AddSingleton(_ => new NpgsqlDataSourceBuilder(connectionString).Build());
        services.AddDbContextPool<RegistryDb>((provider, options) => Configure(options, provider.GetRequiredService<NpgsqlDataSource>()));
        return services;
    }

    internal static void Configure(DbContextOptionsBuilder options, NpgsqlDataSource source) =>
        options.UseNpgsql(source).UseSnakeCaseNamingConvention();
}

/// <summary>Used by <c>dotnet ef</c> only, which never connects.</summary>
internal sealed class DesignTimeDb : Microsoft.EntityFrameworkCore.Design.IDesignTimeDbContextFactory<RegistryDb>
{
    public RegistryDb CreateDbContext(string[] args)
    {
        var options = new DbContextOptionsBuilder<RegistryDb>().UseNpgsql("Host=design-time").UseSnakeCaseNamingConvention();
        return new RegistryDb(options.Options);
    }
}
