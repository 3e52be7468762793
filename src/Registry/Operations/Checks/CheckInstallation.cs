using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Operations.Alarms;
using Registry.Platform;
using Registry.Platform.Encryption;

namespace Registry.Operations.Checks;

/// <summary>Looks at what the registry stands on: configuration, database, clock, keys, certificates, disk, mail, backup. Changes
/// nothing.</summary>
public sealed class CheckInstallation(
    NpgsqlDataSource source, IServiceProvider services, IConfiguration configuration, IHostEnvironment environment,
    IOptions<ProgramOptions> program, IOptions<OperationsOptions> options, IEnumerable<IInstallationCheck> checks, FindProblems problems,
    TimeProvider time)
{
    private const int OldestServer = 170_000;
    private static readonly TimeSpan MostDrift = TimeSpan.FromSeconds(5);

    /// <param name="reachOthers">Also asks other machines than the database's, which may take seconds.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<CheckLine>> RunAsync(bool reachOthers, CancellationToken ct)
    {
        var lines = new List<CheckLine> { Configuration(), FieldKey(), Disk() };
        foreach (var check in checks) lines.AddRange(await check.RunAsync(reachOthers, ct));
        try
        {
            await using var connection = await source.OpenConnectionAsync(ct);
            lines.Add(await ServerAsync(connection, ct));
            lines.Add(await SchemaAsync(ct));
            lines.Add(await RightsAsync(connection, ct));
            lines.Add(await ClockAsync(connection, ct));
            lines.AddRange((await problems.RunAsync(ct)).Where(p => p.Kind != ProblemKind.DiskLow).Select(OperationsWords.Line));
        }
        catch (NpgsqlException e)
        {
            lines.Add(CheckWords.NoDatabase(e));
        }

        return lines;
    }

    private CheckLine Configuration()
    {
        try
        {
            // As at a start: every options class with its limits.
            services.GetService<IStartupValidator>()?.Validate();
            return CheckWords.Configured(environment.EnvironmentName, program.Value);
        }
        catch (Exception wrong) when (wrong is OptionsValidationException or AggregateException)
        {
            return CheckWords.Misconfigured(wrong);
        }
    }

    private CheckLine FieldKey()
    {
        var own = configuration[FieldKeyFile.Setting] is { Length: > 0 };
        return CheckWords.FieldKeys(FieldKeys.OfProcess, own);
    }

    private CheckLine Disk() => CheckWords.Disk(FreeDisk.Here(configuration), options.Value.DiskFreeMebibytes);

    private static async Task<CheckLine> ServerAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(
            "select current_setting('server_version_num')::int, current_setting('data_checksums') = 'on'", connection);
        await using var reader = await command.ExecuteReaderAsync(ct);
        await reader.ReadAsync(ct);
        return CheckWords.Server(connection.PostgreSqlVersion.ToString(), reader.GetInt32(0) >= OldestServer, reader.GetBoolean(1));
    }

    private async Task<CheckLine> SchemaAsync(CancellationToken ct)
    {
        await using var scope = services.CreateAsyncScope();
        var (has, needs) = await Records.MigrateDatabase.VersionsAsync(scope.ServiceProvider.GetRequiredService<Records.RegistryDb>(), ct);
        return CheckWords.Schema(has, needs);
    }

    /// <summary>What the program's role could do to what must not be changed.</summary>
    private static async Task<CheckLine> RightsAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand(EmbeddedSql.Of<CheckInstallation>("ReadRights"), connection);
        await using var reader = await command.ExecuteReaderAsync(ct);
        await reader.ReadAsync(ct);
        return CheckWords.Rights(reader.GetString(0), reader.GetBoolean(1), reader.GetInt32(2));
    }

    private async Task<CheckLine> ClockAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand("select clock_timestamp()", connection);
        var asked = time.GetUtcNow();
        var there = new DateTimeOffset((DateTime)(await command.ExecuteScalarAsync(ct))!);
        var here = asked + ((time.GetUtcNow() - asked) / 2);
        return CheckWords.Clock((there - here).Duration(), MostDrift, program.Value.TimeZone);
    }
}
