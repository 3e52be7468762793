using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>The tests and evaluations of places where nobody is born: a clinic is measured by all it reports, for none of it is a test
/// before discharge.</summary>
public sealed class ClinicResults(NpgsqlDataSource source, ProgramClock clock)
{
    /// <summary>A list of a clinic's results; beside it the three of <see cref="MeasureDelays.Shows"/>.</summary>
    public const string All = "results";

    private const string ByDay =
        """
        select site_id, performed_at::date, received_at::date, count(*)::int from results group by 1, 2, 3 order by 1, 2, 3
        """;

    /// <summary>As lists show them: those of a kind, by the same days as they are counted.</summary>
    private const string Shown =
        """
        , shown as (
          select * from results t
           where case @show
                   when 'results' then true
                   when 'late' then t.received_at::date - t.performed_at::date > @within_days
                   else exists (select from unnest(@tested, @received) d (tested, received)
                     where d.tested = t.performed_at::date and d.received = t.received_at::date) end
        )

        """;

    /// <summary>Whether a list of a site is one of these.</summary>
    public static bool Lists(Site site, string? show) =>
        !site.Kind.HasBirths() && (show == All || MeasureDelays.Shows.Contains(show));

    /// <summary>The statement of a list, in a viewer's words.</summary>
    /// <param name="visible">The visibility rule.</param>
    /// <param name="answer">What is made of <c>shown</c>.</param>
    public static string ListSql(string visible, string answer) => Sql(visible, Shown + answer);

    /// <summary>How many results of each day came on each day.</summary>
    public async Task<IReadOnlyList<(SiteId Site, ReceivedTests Results)>> ByDayAsync(ScreensAsked asked, CancellationToken ct)
    {
        await using var command = source.CreateCommand(Sql("true", ByDay));
        asked.Bind(command);
        Bind(command, asked, clock);
        await using var r = await command.ExecuteReaderAsync(ct);
        var results = new List<(SiteId, ReceivedTests)>();
        while (await r.ReadAsync(ct)) results.Add((new(r.GetGuid(0)), new(r.Date(1), r.Date(2), r.GetInt32(3), Late: 0)));
        return results;
    }

    /// <summary>What the statement asks beside <see cref="ScreensAsked.Bind"/>.</summary>
    public static void Bind(NpgsqlCommand command, ScreensAsked asked, ProgramClock clock)
    {
        command.Parameters.AddWithValue("known", clock.EndOf(asked.AsOf ?? clock.Today).ToUniversalTime());
        command.Parameters.AddWithValue("zone", clock.Zone.Id);
    }

    private static string Sql(string visible, string answer) => EmbeddedSql.Of<ClinicResults>()
        .Replace("{visible}", visible, StringComparison.Ordinal).Replace("{answer}", answer, StringComparison.Ordinal);
}
