using Npgsql;
using NpgsqlTypes;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>How often a site uses one way of sending.</summary>
/// <param name="Site">The code of the site.</param>
/// <param name="Days">Days with a submission in 400.</param>
/// <param name="UsualGap">The 95th percentile of the gaps; null with a single day.</param>
/// <param name="Allowed">Days of quiet that rhythm allows; null when there are too few days for a rhythm.</param>
public sealed record FeedRhythm(
    string Site, SubmissionFormat Format, int Days, DateOnly LastDay, int? UsualGap, int? Allowed, int Silence)
{
    /// <summary>Silent for longer it was given up, as far as the list of sites is concerned. Common practice, no source.</summary>
    private const int GivenUpAfter = 90;

    public bool IsSilent => Silence > Allowed;

    /// <summary>Worth a mark where sites are compared: the site's own page goes on saying it.</summary>
    public bool FellSilent => IsSilent && Silence <= GivenUpAfter;
}

/// <summary>Reads the rhythm of each way a site sends by: one that stopped is hidden by another that goes on.</summary>
public sealed class SilentFeeds(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    private static readonly string Sql = EmbeddedSql.Of<SilentFeeds>();

    public Task<IReadOnlyList<FeedRhythm>> OfSiteAsync(SiteId site, DateOnly asOf, CancellationToken ct) => ReadAsync(site, asOf, ct);

    /// <summary>Of every active site.</summary>
    public Task<IReadOnlyList<FeedRhythm>> OfAllAsync(DateOnly asOf, CancellationToken ct) => ReadAsync(null, asOf, ct);

    /// <summary>Whose silent ways of sending are a mark of their own: those of sites that send by another meanwhile.</summary>
    public static StandingMarks Stand(IEnumerable<FeedRhythm> feeds, IEnumerable<SiteRhythm> rhythms, Policy policy)
    {
        var sending = rhythms.Where(r => !r.IsSilent).Select(r => r.Code).ToHashSet();
        return CommonMarks.Of(
            [
                .. feeds.Where(f => f.Allowed is not null && sending.Contains(f.Site)).GroupBy(f => f.Site).Select(g => new MarkedUnit(
                    g.Key, g.Any(f => f.FellSilent), g.Where(f => f.FellSilent).Max(f => (double?)f.Silence / f.Allowed) ?? 0)),
            ],
            policy);
    }

    private async Task<IReadOnlyList<FeedRhythm>> ReadAsync(SiteId? site, DateOnly asOf, CancellationToken ct)
    {
        var policy = await policies.InForceAsync(asOf, ct);
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddNullable("site", site?.Value, NpgsqlDbType.Uuid);
        command.Parameters.AddWithValue("known", asOf == clock.Today ? clock.Now : clock.EndOf(asOf));
        command.Parameters.AddWithValue("zone", clock.Zone.Id);
        await using var r = await command.ExecuteReaderAsync(ct);
        var feeds = new List<FeedRhythm>();
        while (await r.ReadAsync(ct))
        {
            var (days, last, usual) = (r.GetInt32(1), r.Date(2), r.ValueOrNull<int>(3));
            feeds.Add(new(r.GetString(5), r.Code<SubmissionFormat>(0), days, last, usual,
                JudgeSilence.AllowedDays(days, usual, r.ValueOrNull<int>(4), policy), asOf.DayNumber - last.DayNumber));
        }

        return feeds;
    }
}
