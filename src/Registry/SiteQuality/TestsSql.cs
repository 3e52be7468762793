using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>SQL of the tests behind a number: the tests themselves, or how many infants there are of each week.</summary>
internal static class TestsSql
{
    private const string List =
        """
        select screening_id, infant_id, performed_at, ear, method, outcome, reason, instrument, probe, screener, age_hours::float8,
               received_at, count(*) over ()::int as tests, (select count(distinct infant_id)::int from shown) as infants
          from shown
         order by performed_at desc, screening_id desc offset @skip limit @take
        """;

    private const string Weeks =
        "select date_trunc('week', day)::date, count(distinct infant_id)::int from shown group by 1 order by 1";

    /// <summary>Of the session after a first one that referred, wherever that was: the other lists are of the birth admission.</summary>
    public static readonly string[] Rescreens = ["rescreens", "rescreen_refer"];

    /// <summary>What counts infants: shown by the group, part and day of their first attempt at the site.</summary>
    public static readonly string[] OfInfants =
    [
        "infants", "sessions", "first_refer", "concluded", "referred", "referred_both", "both_ears", "incomplete", "with_age",
        "early_first", "first_day", "session_no_seal", "session_noise", "session_other_reason", "session_with_age", "early_session",
    ];

    private static readonly string OfTests = Visible(EmbeddedSql.Of<ListTests>());
    private static readonly string OfRescreens = Visible(EmbeddedSql.Of<ListTests>("ListRescreens"));

    /// <summary>The times, and the early tests, that a flag may name instead of a unit.</summary>
    public static readonly CauseKind[] Parts =
        [CauseKind.EarlyTests, CauseKind.Weekdays, CauseKind.Weekends, CauseKind.Daytime, CauseKind.NightTime];

    /// <summary>The statement with what every list asks; who lists adds what only some do.</summary>
    public static NpgsqlCommand Command(
        NpgsqlConnection connection, TestsAsked asked, ScreensAsked screens, ProgramClock clock, Viewer viewer, bool weeks = false)
    {
        var command = connection.CreateCommand();
        var again = Rescreens.Contains(asked.Show);
        command.CommandText = (again ? OfRescreens : OfTests).Replace("{answer}", weeks ? Weeks : List, StringComparison.Ordinal)
            .Replace("{unit}", Unit(asked.By, asked.Days), StringComparison.Ordinal)
            .Replace("{part}", Part(asked.Part), StringComparison.Ordinal);
        if (again)
        {
            command.Parameters.AddWithValue("hours", screens.Policy.SessionHours);
            command.Parameters.AddWithValue("minutes", screens.Policy.SittingMinutes);
            command.Parameters.AddWithValue("known", clock.EndOf(screens.AsOf ?? clock.Today).ToUniversalTime());
            command.Parameters.AddWithValue("zone", clock.Zone.Id);
        }

        screens.Bind(command);
        Visibility.Bind(command, viewer);
        command.Parameters.AddNullable("unit", asked.By == ScreenGrouping.Site ? null : asked.Unit ?? "", NpgsqlDbType.Text);
        command.Parameters.AddWithValue("show", asked.Show ?? "all");
        command.Parameters.AddWithValue("of_infant", OfInfants.Contains(asked.Show));
        return command;
    }

    /// <summary>The same of what a clinic reported.</summary>
    public static NpgsqlCommand OfClinic(
        NpgsqlConnection connection, TestsAsked asked, ScreensAsked screens, ProgramClock clock, Viewer viewer)
    {
        var command = connection.CreateCommand();
        command.CommandText = ClinicResults.ListSql(Visibility.Where("t.infant_id"), List);
        screens.Bind(command);
        ClinicResults.Bind(command, screens, clock);
        Visibility.Bind(command, viewer);
        command.Parameters.AddWithValue("show", asked.Show!);
        return command;
    }

    private static string Visible(string sql) => sql.Replace("{visible}", Visibility.Where("t.infant_id"), StringComparison.Ordinal);

    /// <summary>SQL of a test's group, as it is counted (Infants/Counting/CountTests).</summary>
    private static string Unit(ScreenGrouping grouping, CountedDay days) => grouping switch
    {
        ScreenGrouping.Site or ScreenGrouping.Received or ScreenGrouping.Arrival => "''",
        ScreenGrouping.Instrument => "coalesce(t.instrument, '')",
        ScreenGrouping.Probe => "coalesce(t.probe, '')",
        ScreenGrouping.Screener => "coalesce(t.screener, '')",
        ScreenGrouping.Method => "t.method",
        ScreenGrouping.Age => AgeBands.Sql("t.age_hours"),
        ScreenGrouping.Hour => "to_char(t.performed_at, 'HH24')",
        ScreenGrouping.Week => $"to_char(date_trunc('week', t.{(days == CountedDay.Birth ? "born_on" : "performed_at")}), 'YYYY-MM-DD')",
        _ => throw new ArgumentOutOfRangeException(nameof(grouping), grouping, "Not a grouping."),
    };

    /// <summary>SQL of whether a test belongs to a part of the site's, as the night has it (<see cref="CauseFactor"/>).</summary>
    private static string Part(CauseKind? part) => part switch
    {
        null => "true",
        CauseKind.EarlyTests => "coalesce(t.early, false)",
        CauseKind.Weekdays => "extract(isodow from t.performed_at) < 6",
        CauseKind.Weekends => "extract(isodow from t.performed_at) > 5",
        CauseKind.Daytime => Daytime,
        CauseKind.NightTime => $"not ({Daytime})",
        _ => throw new ArgumentOutOfRangeException(nameof(part), part, "A unit is no part."),
    };

    private static string Daytime =>
        $"extract(hour from t.performed_at) >= {CauseFactor.DayFrom} and extract(hour from t.performed_at) < {CauseFactor.NightFrom}";
}
