using Npgsql;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Rules.Facts;

namespace Registry.SiteQuality;

/// <summary>Reads what is counted of sites, instruments, probes, … over days, as known now or at the end of a day.</summary>
public sealed class CountScreens(NpgsqlDataSource source)
{
    private const string DaysTogether = "null::date";

    private const string Asked =
        """
        c.grouping = @grouping and (@site::uuid is null or c.site_id = @site)
           and (c.counted_by = @by_month and c.day between @first and @last
             or c.counted_by = @by_day and c.day between @from and @before or c.counted_by = @by_day and c.day between @after and @to)
        """;

    private static readonly string Sql = EmbeddedSql.Of<CountScreens>()
        .Replace("{asked}", Asked, StringComparison.Ordinal)
        .Replace("{sums}", ScreenColumns.Each(c => $"sum({c} * sign)::int as {c}"), StringComparison.Ordinal);

    /// <returns>A line for each site and unit that has any, in order.</returns>
    public async Task<IReadOnlyList<ScreenCounts>> ByAsync(ScreenGrouping grouping, ScreensAsked asked, CancellationToken ct)
    {
        await using var command = Command(grouping, asked);
        await using var r = await command.ExecuteReaderAsync(ct);
        var counts = new List<ScreenCounts>();
        while (await r.ReadAsync(ct)) counts.Add(Read(r));
        return counts;
    }

    /// <summary>The same, day by day.</summary>
    public async Task<IReadOnlyList<(ScreenCounts Counts, DateOnly Day)>> ByDayAsync(
        ScreenGrouping grouping, ScreensAsked asked, CancellationToken ct)
    {
        await using var command = Command(grouping, asked, "day");
        await using var r = await command.ExecuteReaderAsync(ct);
        var counts = new List<(ScreenCounts, DateOnly)>();
        while (await r.ReadAsync(ct)) counts.Add((Read(r), r.Date(2)));
        return counts;
    }

    /// <summary>The statement alone, for who measures what a page adds to it.</summary>
    /// <param name="grouping">What is counted.</param>
    /// <param name="asked">Of whom, and when.</param>
    /// <param name="day">SQL of the day; without one days are put together.</param>
    public NpgsqlCommand Command(ScreenGrouping grouping, ScreensAsked asked, string day = DaysTogether)
    {
        var command = source.CreateCommand(Sql.Replace("{day}", day, StringComparison.Ordinal));
        asked.Bind(command);
        var (byDay, byMonth) = ScreenColumns.Sums(grouping, asked.By);
        var together = day == DaysTogether && byMonth is not null;
        (together ? WholeMonths.Between(asked.Period.From, asked.Period.To) : WholeMonths.None(asked.Period.To)).Bind(command);
        command.Parameters.AddWithValue("by_day", Codes.Of(byDay));
        command.Parameters.AddWithValue("by_month", Codes.Of(byMonth ?? byDay));
        command.Parameters.AddWithValue("grouping", Codes.Of(grouping));
        return command;
    }

    private static ScreenCounts Read(NpgsqlDataReader r) =>
        new(new(r.GetGuid(0)), r.GetString(1), [.. ScreenColumns.Figures.Select((_, i) => r.GetInt32(3 + i))]);
}
