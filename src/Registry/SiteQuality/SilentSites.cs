using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Infants;
using Registry.Platform;
using Registry.Records;

namespace Registry.SiteQuality;

/// <summary>A site that has sent nothing for longer than its own rhythm predicts.</summary>
/// <param name="LastDay">The last day something was received.</param>
/// <param name="Days">Days with a submission in the year before: what the rhythm stands on.</param>
/// <param name="ExpectedWithin">Days of silence its rhythm allows.</param>
public sealed record SilentSite(SiteId Id, string Code, string Name, DateOnly LastDay, int Days, int ExpectedWithin);

/// <summary>Finds them. A silent site looks like a site without problems; its infants look lost.</summary>
public sealed class SilentSites(NpgsqlDataSource source, IOptions<ProgramOptions> program)
{
    private static readonly string Sql = EmbeddedSql.Of<SilentSites>();

    public async Task<IReadOnlyList<SilentSite>> FindAsync(Statuses asOf, CancellationToken cancel)
    {
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("known", asOf.KnownAt);
        command.Parameters.AddWithValue("as_of", asOf.AsOf);
        command.Parameters.AddWithValue("zone", program.Value.TimeZone);
        await using var r = await command.ExecuteReaderAsync(cancel);
        var silent = new List<SilentSite>();
        while (await r.ReadAsync(cancel))
            silent.Add(new(new SiteId(r.GetGuid(0)), r.GetString(1), r.GetString(2), r.GetFieldValue<DateOnly>(3), r.GetInt32(4), r.GetInt32(5)));
        return silent;
    }
}
