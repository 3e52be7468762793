using Npgsql;
using NpgsqlTypes;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules;

namespace Registry.SiteQuality;

/// <summary>Whose screening of the birth admission is looked at.</summary>
/// <param name="Period">Days of test.</param>
/// <param name="Site">Of one site; null: of all.</param>
/// <param name="AsOf">What was known when.</param>
/// <param name="Policy">Decides what belongs to the birth admission.</param>
public sealed record ScreensAsked(Period Period, SiteId? Site, StatusesAsOf AsOf, Policy Policy)
{
    private static readonly string AttemptsSql = EmbeddedSql.Of<ScreensAsked>("Attempts");

    /// <summary>Makes a command a statement over these attempts, each with its unit; its placeholder is Attempts.sql.</summary>
    internal NpgsqlCommand Fill(NpgsqlCommand command, string sql, ScreenGrouping grouping)
    {
        var attempts = AttemptsSql.Replace("{unit}", Unit(grouping), StringComparison.Ordinal);
        command.CommandText = sql.Replace("{attempts}", attempts, StringComparison.Ordinal);
        var p = command.Parameters;
        p.AddWithValue("from", Period.From);
        p.AddWithValue("to", Period.To);
        p.AddWithValue("known", AsOf.KnownAt);
        p.AddNullable("site", Site?.Value, NpgsqlDbType.Uuid);
        p.AddWithValue("trust_stage", Policy.TrustReportedStage);
        p.AddWithValue("admission_hours", Policy.BirthAdmissionHours);
        p.AddWithValue("early_abr", Policy.EarliestAbrHours);
        p.AddWithValue("early_oae", Policy.EarliestOaeHours);
        p.AddWithValue("inpatient_days", Policy.InpatientDays);
        p.AddWithValue("zone", Policy.Zone.Id);
        return command;
    }

    /// <summary>SQL of a grouping, over <c>screenings s</c>, <c>births b</c>.</summary>
    private static string Unit(ScreenGrouping grouping) => grouping switch
    {
        ScreenGrouping.Site => "s.site_id::text",
        ScreenGrouping.Instrument => "coalesce(s.instrument, '')",
        ScreenGrouping.Probe => "coalesce(s.probe, '')",
        ScreenGrouping.Screener => "coalesce(s.screener, '')",
        ScreenGrouping.Method => "s.method",
        ScreenGrouping.Age => EmbeddedSql.Of<ScreensAsked>("AgeAtTest"),
        ScreenGrouping.Week => "to_char(date_trunc('week', s.performed_at), 'YYYY-MM-DD')",
        _ => throw new ArgumentOutOfRangeException(nameof(grouping), grouping, "Not a grouping."),
    };
}
