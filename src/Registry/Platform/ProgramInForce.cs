using Microsoft.Extensions.Options;
using Npgsql;

namespace Registry.Platform;

/// <summary>What the program is called and where it is, as it last stated on a page; until then as the settings have it. Every process
/// asks for it again within half a minute; the one it was stated to, at once.</summary>
public sealed class ProgramInForce(NpgsqlDataSource source, IOptionsMonitor<ProgramOptions> configured) : IOptions<ProgramOptions>
{
    private const string Read =
        "select name, region, time_zone, phone, privacy_contact, languages, counties from program_settings order by id desc limit 1";

    private volatile ProgramOptions? _stated;

    public ProgramOptions Value => _stated ?? configured.CurrentValue;

    /// <summary>Something was stated anew.</summary>
    public event Action? Changed;

    public async Task ReadAsync(CancellationToken ct)
    {
        await using var command = source.CreateCommand(Read);
        await using var r = await command.ExecuteReaderAsync(ct);
        if (!await r.ReadAsync(ct)) return;
        var before = Value;
        _stated = configured.CurrentValue with
        {
            Name = r.GetString(0),
            Region = r.GetString(1),
            TimeZone = r.GetString(2),
            Phone = r.GetString(3),
            PrivacyContact = r.GetString(4),
            Languages = r.GetFieldValue<string[]>(5),
            Counties = r.GetFieldValue<string[]>(6),
        };
        if (before.TimeZone != _stated.TimeZone) Changed?.Invoke();
    }
}

/// <summary>Asks again now and then, because the page may have been another process's.</summary>
internal sealed class FollowProgram(ProgramInForce program) : BackgroundService
{
    private static readonly TimeSpan Every = TimeSpan.FromSeconds(30);

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        using var timer = new PeriodicTimer(Every);
        do
        {
            try
            {
                await program.ReadAsync(stoppingToken);
            }
            catch (NpgsqlException)
            {
                // Not there yet, or not reached: what was known stands, and it is asked for again.
            }
        }
        while (await timer.WaitForNextTickAsync(stoppingToken));
    }
}
