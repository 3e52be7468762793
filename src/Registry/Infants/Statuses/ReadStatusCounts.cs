using Npgsql;
using NpgsqlTypes;
using Registry.Infants.Counting;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Infants.Statuses;

/// <summary>Infants put together by <typeparamref name="TBy"/>: the first of a month of birth, or a site of birth.</summary>
public readonly record struct CountedStatus<TBy>(TBy By, StatusFigure Counted, string State, bool Closed, long Infants);

/// <summary>Reads how many infants of the whole region, or of a site of birth, are where. Today's are kept; those of a past day are counted
/// from its snapshot.</summary>
public sealed class ReadStatusCounts(NpgsqlDataSource source)
{
    private static readonly string KeptSql = CountStatuses.With(EmbeddedSql.Of<ReadStatusCounts>()).Replace("{asked}",
        "c.counted = any (@figures) and (@site::text is null or c.site_id = (select id from sites where code = @site))",
        StringComparison.Ordinal);

    private static readonly string LiveSql = CountStatuses.With(EmbeddedSql.Of<ReadStatusCounts>("ReadStatusesLive"));

    /// <param name="statuses">The day.</param>
    /// <param name="figures">What is asked for.</param>
    /// <param name="born">Days of birth, both included; null: all.</param>
    /// <param name="site">Code of the site of birth; null: the region.</param>
    /// <param name="ct">Cancels.</param>
    public Task<IReadOnlyList<CountedStatus<DateOnly>>> ByMonthAsync(
        StatusesAsOf statuses, StatusFigure[] figures, (DateOnly? From, DateOnly? To) born, string? site, CancellationToken ct) =>
        ReadAsync(statuses, figures, born, site, "date_trunc('month', born_on)::date", r => r.Date(0), ct);

    public Task<IReadOnlyList<CountedStatus<SiteId>>> BySiteAsync(
        StatusesAsOf statuses, StatusFigure[] figures, (DateOnly? From, DateOnly? To) born, CancellationToken ct) =>
        ReadAsync(statuses, figures, born, null, "site_id", r => new SiteId(r.GetGuid(0)), ct);

    /// <summary>The statement alone, for who measures what a page adds to it.</summary>
    public NpgsqlCommand Command(
        StatusesAsOf statuses, StatusFigure[] figures, (DateOnly? From, DateOnly? To) born, string? site, string by)
    {
        var sql = statuses.IsToday ? KeptSql : LiveSql.Replace("{statuses}", statuses.Relation, StringComparison.Ordinal);
        var command = source.CreateCommand(sql.Replace("{by}", by, StringComparison.Ordinal));
        command.Parameters.AddWithValue("today", statuses.AsOf);
        command.Parameters.AddWithValue("figures", figures.Select(f => Codes.Of(f)).ToArray());
        var (from, to) = (born.From ?? DateOnly.MinValue, born.To ?? DateOnly.MaxValue);
        command.Parameters.AddWithValue("from", from);
        command.Parameters.AddWithValue("to", to);
        WholeMonths.Between(from, to).Bind(command);
        command.Parameters.AddNullable("site", site, NpgsqlDbType.Text);
        return command;
    }

    private async Task<IReadOnlyList<CountedStatus<TBy>>> ReadAsync<TBy>(
        StatusesAsOf statuses, StatusFigure[] figures, (DateOnly? From, DateOnly? To) born, string? site, string by,
        Func<NpgsqlDataReader, TBy> read, CancellationToken ct)
    {
        await using var command = Command(statuses, figures, born, site, by);
        await using var r = await command.ExecuteReaderAsync(ct);
        var counts = new List<CountedStatus<TBy>>();
        while (await r.ReadAsync(ct))
            counts.Add(new(read(r), r.Code<StatusFigure>(1), r.GetString(2), r.GetBoolean(3), r.GetInt64(4)));
        return counts;
    }
}
