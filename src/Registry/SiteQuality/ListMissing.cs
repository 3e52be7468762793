using Registry.Access;
using Registry.Infants.List;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules;

namespace Registry.SiteQuality;

/// <summary>An infant whose result is missing.</summary>
public sealed record MissingResult(
    InfantId Id, DueStep Step, DateOnly DueOn, DateOnly BornOn, string Child, string Mother, string? RecordNumber);

/// <summary>The first of them, and how many there are; past <see cref="MostCounted"/>, that there are more.</summary>
public sealed record MissingResults(IReadOnlyList<MissingResult> Lines, int Count)
{
    /// <summary>Counted no further, so that a report costs the same at a site that has let thousands wait.</summary>
    public const int MostCounted = 1_000;

    public bool AreMore => Count > MostCounted;

    /// <summary>The query of <c>/infants</c> that lists them all.</summary>
    public static (string, object?)[] Query(string site, Period born) =>
        [("responsible", site), ("due", DueWindow.Overdue), ("from", born.From), ("to", born.To)];
}

/// <summary>Lists by name the infants of a site that wait for a result: of the year before, whose next step the site owns and whose day is
/// over. The read is recorded.</summary>
public sealed class ListMissing(StatusSource statuses, ViewerDatabase data, AuditReads audit, Viewer viewer)
{
    private static readonly string Sql = EmbeddedSql.Of<ListMissing>();

    /// <summary>Births whose results are asked after: of the year that ends with the report's.</summary>
    public static Period Born(Period shown) => new(shown.To.AddYears(-1).AddDays(1), shown.To);

    /// <returns>Null for a past day whose statuses nobody had computed.</returns>
    public async Task<MissingResults?> AsOfAsync(Site site, Period shown, DateOnly asOf, int most, CancellationToken ct)
    {
        if (!viewer.MaySee(site.Id)) return null;
        MissingResults? missing = null;
        if (await statuses.IfKeptAsync(asOf, ct) is { } kept) missing = await ReadAsync(site, Born(shown), kept, most, ct);
        await audit.ListAsync((missing?.Lines ?? []).Select(l => l.Id), ct);
        return missing;
    }

    private async Task<MissingResults> ReadAsync(Site site, Period born, StatusesAsOf kept, int most, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = connection.CreateCommand();
        var filter = new InfantFilter { Due = DueWindow.Overdue, From = born.From, To = born.To };
        command.CommandText = Sql.Replace("{from}", ListInfants.From(command, kept, filter, viewer), StringComparison.Ordinal);
        command.Parameters.AddWithValue("of_site", site.Id.Value);
        command.Parameters.AddWithValue("most", most);
        command.Parameters.AddWithValue("most_counted", MissingResults.MostCounted + 1);
        var (lines, count) = (new List<MissingResult>(), 0);
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.NextResultAsync(ct); // the first says how it is planned
        while (await r.ReadAsync(ct))
        {
            count = r.GetInt32(9);
            lines.Add(new(new(r.GetGuid(0)), r.Code<DueStep>(1), r.Date(2), r.Date(3), $"{r.TextOrNull(4)} {r.TextOrNull(5)}".Trim(),
                $"{r.TextOrNull(6)} {r.TextOrNull(7)}".Trim(), r.TextOrNull(8)));
        }

        return new(lines, count);
    }
}
