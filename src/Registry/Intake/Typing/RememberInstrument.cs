using Npgsql;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>The method and instrument a person used last: what the facts say, so that nothing else needs to be kept.</summary>
public sealed class RememberInstrument(ViewerDatabase data, ProgramClock clock)
{
    /// <summary>Longer ago it says little, and is not looked for.</summary>
    private const int Days = 60;
    private const int LongestName = 64;

    private const string Sql =
        """
        select method, instrument from screenings
         where site_id = $1 and screener = $2 and performed_at > $3 and superseded_at is null order by performed_at desc limit 1
        """;

    /// <summary>Who did a test, as it stands with the test.</summary>
    public static string NameOf(Viewer viewer) => viewer.Name.Length <= LongestName ? viewer.Name : viewer.Name[..LongestName];

    public async Task<(ScreeningMethod?, string?)> OfAsync(Viewer viewer, CancellationToken ct)
    {
        if (viewer.SiteId is not { } site) return default;
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue(site.Value);
        command.Parameters.AddWithValue(NameOf(viewer));
        command.Parameters.AddWithValue(clock.Today.AddDays(-Days).ToDateTime(TimeOnly.MinValue));
        await using var reader = await command.ExecuteReaderAsync(ct);
        return await reader.ReadAsync(ct) ? (reader.Code<ScreeningMethod>(0), reader.TextOrNull(1)) : (null, null);
    }
}
