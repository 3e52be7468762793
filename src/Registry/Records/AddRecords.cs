using Microsoft.EntityFrameworkCore;
using Npgsql;

namespace Registry.Records;

public static class RecordsSetup
{
    /// <summary>One data source for EF Core and for SQL: the writer's. What is shown to a viewer is read by a login of its own
    /// (<c>Access/ViewerDatabase.cs</c>).</summary>
    public static IServiceCollection AddRecords(this IServiceCollection services, string connectionString)
    {
        services.AddSingleton(_ => new NpgsqlDataSourceBuilder(connectionString).WithoutTypeLoading().Build());
        services.AddDbContext<RegistryDb>((provider, options) =>
            Configure(options, provider.GetRequiredService<NpgsqlDataSource>().CreateConnection()));
        return services;
    }

    /// <summary>Its pool does not read the catalog of types when it begins: every column is of a type PostgreSQL is made with.</summary>
    public static NpgsqlDataSourceBuilder WithoutTypeLoading(this NpgsqlDataSourceBuilder builder) =>
        builder.ConfigureTypeLoading(types => types.EnableTypeLoading(false));

    /// <summary>The model on one open connection, which it closes at its end.</summary>
    public static RegistryDb On(NpgsqlConnection connection)
    {
        var options = new DbContextOptionsBuilder<RegistryDb>();
        Configure(options, connection);
        return new(options.Options);
    }

    /// <summary>A connection, not its source: contexts that name none share one model and the plans of its queries.</summary>
    private static void Configure(DbContextOptionsBuilder options, NpgsqlConnection connection) =>
        options.UseNpgsql(connection, contextOwnsConnection: true).UseSnakeCaseNamingConvention();
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
