using Npgsql;
using NpgsqlTypes;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Statistics;

namespace Registry.SiteQuality;

/// <summary>How attempts are grouped. The unit's text is a site id, an instrument, a Monday, …; empty when it was not reported.</summary>
public enum ScreenGrouping { Site, Instrument, Probe, Screener, Method, AgeAtTest, Week }

/// <summary>Counts of one group's birth-admission screening.</summary>
/// <param name="Unit">The group.</param>
/// <param name="Attempts">Tests of one ear with an outcome.</param>
/// <param name="Invalid">Of them without a valid result.</param>
/// <param name="NoSeal">Of the invalid, for want of a seal.</param>
/// <param name="Noise">Of the invalid, for noise.</param>
/// <param name="EarRefers">Attempts that referred.</param>
/// <param name="InfantsConcluded">Infants with a valid result in both ears, or a refer.</param>
/// <param name="InfantsReferred">Of them with a refer in an ear's last valid result.</param>
/// <param name="Infants">Infants attempted.</param>
/// <param name="MedianAgeHours">At the first attempt, of those with a birth time.</param>
/// <param name="InfantsWithAge">Infants whose age in hours at the first attempt is known.</param>
/// <param name="Early">Of them first tested before the policy's minimum age for the method.</param>
public sealed record ScreenCounts(
    string Unit, int Attempts, int Invalid, int NoSeal, int Noise, int EarRefers,
    int InfantsConcluded, int InfantsReferred, int Infants, double? MedianAgeHours, int InfantsWithAge, int Early)
{
    /// <summary>Infants referred at the end of the birth admission.</summary>
    public Proportion Refer => new(InfantsReferred, InfantsConcluded);

    /// <summary>Tests of one ear without a valid result.</summary>
    public Proportion InvalidTests => new(Invalid, Attempts);

    /// <summary>Refers among valid tests of one ear.</summary>
    public Proportion EarRefer => new(EarRefers, Attempts - Invalid);

    public Proportion EarlyFirst => new(Early, InfantsWithAge);
}

/// <summary>Counts birth-admission screening by site, instrument, probe, … over days of test, as known at a moment.</summary>
public sealed class CountScreens(NpgsqlDataSource source)
{
    private static readonly string Sql = EmbeddedSql.Of<CountScreens>();
    private static readonly string AttemptsSql = EmbeddedSql.Of<CountScreens>("Attempts");

    public async Task<IReadOnlyList<ScreenCounts>> ByAsync(
        ScreenGrouping grouping, DateOnly from, DateOnly to, SiteId? site, StatusesAsOf asOf, Policy policy, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql.Replace("{attempts}", Attempts(grouping), StringComparison.Ordinal));
        Bind(command, from, to, site, asOf, policy);
        await using var r = await command.ExecuteReaderAsync(ct);
        var counts = new List<ScreenCounts>();
        while (await r.ReadAsync(ct))
        {
            counts.Add(new ScreenCounts(
                r.GetString(0), r.GetInt32(1), r.GetInt32(2), r.GetInt32(3), r.GetInt32(4), r.GetInt32(5), r.GetInt32(6), r.GetInt32(7),
                r.GetInt32(8), r.IsDBNull(9) ? null : r.GetDouble(9), r.GetInt32(10), r.GetInt32(11)));
        }

        return counts;
    }

    /// <summary>The attempts as a select, each with its unit; needs <see cref="Bind"/>.</summary>
    internal static string Attempts(ScreenGrouping grouping) => AttemptsSql.Replace(
        "{unit}", Expression(grouping), StringComparison.Ordinal);

    internal static void Bind(NpgsqlCommand command, DateOnly from, DateOnly to, SiteId? site, StatusesAsOf asOf, Policy policy)
    {
        var p = command.Parameters;
        p.AddWithValue("from", from);
        p.AddWithValue("to", to);
        p.AddWithValue("known", asOf.KnownAt);
        p.Add(new NpgsqlParameter("site", NpgsqlDbType.Uuid) { Value = (object?)site?.Value ?? DBNull.Value });
        p.AddWithValue("trust_stage", policy.TrustReportedStage);
        p.AddWithValue("admission_hours", policy.BirthAdmissionHours);
        p.AddWithValue("early_abr", policy.EarliestAbrHours);
        p.AddWithValue("early_oae", policy.EarliestOaeHours);
    }

    /// <summary>SQL of a grouping, over <c>screenings s</c>, <c>births b</c>.</summary>
    private static string Expression(ScreenGrouping grouping) => grouping switch
    {
        ScreenGrouping.Site => "s.site_id::text",
        ScreenGrouping.Instrument => "coalesce(s.instrument, '')",
        ScreenGrouping.Probe => "coalesce(s.probe, '')",
        ScreenGrouping.Screener => "coalesce(s.screener, '')",
        ScreenGrouping.Method => "s.method",
        ScreenGrouping.AgeAtTest =>
            """
            case when b.born_at is null then '' else
              case width_bucket(extract(epoch from s.performed_at - (b.born_on + b.born_at)) / 3600.0, array[12, 24, 36, 48])
                when 0 then 'under 12 h' when 1 then '12 to 24 h' when 2 then '24 to 36 h' when 3 then '36 to 48 h' else 'from 48 h' end end
            """,
        ScreenGrouping.Week => "to_char(date_trunc('week', s.performed_at), 'YYYY-MM-DD')",
        _ => throw new ArgumentOutOfRangeException(nameof(grouping), grouping, "Not a grouping."),
    };
}
