using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>A kind of fact that a site goes without for longer than its number of infants explains.</summary>
/// <param name="Kind">Births or screens.</param>
/// <param name="LastDay">The last birth, or the last day of a test.</param>
/// <param name="Expected">Infants expected since, without those that may be on their way.</param>
public sealed record StoppedFacts(SiteId SiteId, string Code, RowKind Kind, DateOnly LastDay, double Expected);

/// <summary>
/// Finds births or screens that have stopped, against the infants the site has a day: births that arrive hide screens that stopped. A
/// clinic has no births to expect and is not judged by them. Of today only: what was known on a past day is not asked.
/// </summary>
public sealed class FindStoppedFacts(NpgsqlDataSource source, PolicyStore policies, ProgramClock clock)
{
    private static readonly string Sql = EmbeddedSql.Of<FindStoppedFacts>();

    /// <param name="rhythms">How often each site sends: what comes once a month by agreement has not stopped after three weeks. Sites that
    /// are silent as a whole are left out.</param>
    /// <param name="asOf">The day.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IReadOnlyList<StoppedFacts>> FindAsync(
        IReadOnlyList<SiteRhythm> rhythms, DateOnly asOf, CancellationToken ct)
    {
        if (asOf != clock.Today) return [];
        var policy = await policies.InForceAsync(asOf, ct);
        await using var command = source.CreateCommand(Sql);
        await using var r = await command.ExecuteReaderAsync(ct);
        var stopped = new List<StoppedFacts>();
        while (await r.ReadAsync(ct))
        {
            var (site, code) = (new SiteId(r.GetGuid(0)), r.GetString(1));
            if (rhythms.FirstOrDefault(s => s.Id == site) is not { IsSilent: false } rhythm) continue;
            var allowed = Math.Max(r.ValueOrNull<int>(2) ?? policy.ArrivalDays, rhythm.UsualGap ?? 0);
            var perDay = r.GetDouble(5);
            Judge(RowKind.Birth, r.ValueOrNull<DateOnly>(3));
            Judge(RowKind.Screening, r.Date(4));

            void Judge(RowKind kind, DateOnly? last)
            {
                if (last is not { } day) return;
                var expected = JudgeSilence.Expected(perDay, day, asOf, allowed);
                if (JudgeSilence.IsSilent(expected, policy)) stopped.Add(new(site, code, kind, day, expected));
            }
        }

        return stopped;
    }
}
