using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>How often a site uses one way of sending.</summary>
/// <param name="Days">Days with a submission in 400.</param>
/// <param name="UsualGap">The 95th percentile of the gaps; null with a single day.</param>
/// <param name="Allowed">Days of quiet that rhythm allows; null when there are too few days for a rhythm.</param>
public sealed record FeedRhythm(SubmissionFormat Format, int Days, DateOnly LastDay, int? UsualGap, int? Allowed, int Silence)
{
    public bool IsSilent => Silence > Allowed;
}

/// <summary>Reads the rhythm of each way a site sends by: one that stopped is hidden by another that goes on.</summary>
public sealed class SilentFeeds(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    private static readonly string Sql = EmbeddedSql.Of<SilentFeeds>();

    public async Task<IReadOnlyList<FeedRhythm>> OfSiteAsync(SiteId site, DateOnly asOf, CancellationToken ct)
    {
        var policy = await policies.InForceAsync(asOf, ct);
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddWithValue("site", site.Value);
        command.Parameters.AddWithValue("known", asOf == clock.Today ? clock.Now : clock.EndOf(asOf));
        command.Parameters.AddWithValue("zone", clock.Zone.Id);
        await using var r = await command.ExecuteReaderAsync(ct);
        var feeds = new List<FeedRhythm>();
        while (await r.ReadAsync(ct))
        {
            var (days, last, usual) = (r.GetInt32(1), r.Date(2), r.ValueOrNull<int>(3));
            feeds.Add(new(r.Code<SubmissionFormat>(0), days, last, usual,
                JudgeSilence.AllowedDays(days, usual, r.ValueOrNull<int>(4), policy), asOf.DayNumber - last.DayNumber));
        }

        return feeds;
    }
}
