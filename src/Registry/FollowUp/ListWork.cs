using System.Globalization;
using System.Runtime.CompilerServices;
using System.Text.Json;
using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Work;

namespace Registry.FollowUp;

/// <summary>The work list of a viewer: what is kept beside the statuses (<see cref="StoreWork"/>), page by page in its order.</summary>
public sealed class ListWork(ViewerDatabase data)
{
    public const int PageSize = 25;

    /// <summary>Infants of a call sheet: a day's calls, on a few sheets of paper.</summary>
    public const int SheetSize = 100;

    private static readonly string Sql =
        EmbeddedSql.Of<ListWork>().Replace("{family}", WhomToCall.Join("p.infant_id"), StringComparison.Ordinal);

    public async Task<WorkCounts> CountAsync(WorkFilter filter, Viewer viewer, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = connection.CreateCommand();
        command.CommandText = CountSql(command, filter, viewer);
        var counts = new Dictionary<WorkTray, long>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) counts[r.Code<WorkTray>(0)] = counts.GetValueOrDefault(r.Code<WorkTray>(0)) + r.GetInt64(1);
        return new(counts);
    }

    /// <summary>Some rows after a position, and whether there are more.</summary>
    public async Task<(IReadOnlyList<WorkRow> Rows, bool More)> PageAsync(
        WorkFilter filter, Viewer viewer, string? after, int size, CancellationToken ct)
    {
        var rows = new List<WorkRow>(size + 1);
        await foreach (var row in ReadAsync(filter, viewer, after, size + 1, null, ct)) rows.Add(row);
        if (rows.Count <= size) return (rows, false);
        rows.RemoveAt(size);
        return (rows, true);
    }

    public IAsyncEnumerable<WorkRow> AllAsync(WorkFilter filter, Viewer viewer, CancellationToken ct) =>
        ReadAsync(filter, viewer, null, null, null, ct);

    /// <summary>One infant's, wherever it stands.</summary>
    /// <returns>Null for one the viewer does not see, or about whom nothing is due.</returns>
    public async Task<WorkRow?> OneAsync(InfantId infant, Viewer viewer, CancellationToken ct)
    {
        await foreach (var row in ReadAsync(null, viewer, null, 1, infant, ct)) return row;
        return null;
    }

    public async Task<IReadOnlyList<InfantId>> IdsAsync(WorkFilter filter, Viewer viewer, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = connection.CreateCommand();
        command.CommandText = Each(Parts(command, filter, viewer), part => $"select w.infant_id {part} and w.tray = @tray");
        command.Parameters.AddWithValue("tray", Codes.Of(filter.Tray));
        var ids = new List<InfantId>();
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) ids.Add(new(r.GetGuid(0)));
        return ids;
    }

    private async IAsyncEnumerable<WorkRow> ReadAsync(
        WorkFilter? filter, Viewer viewer, string? after, int? limit, InfantId? one, [EnumeratorCancellation] CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        await using var command = connection.CreateCommand();
        var conditions = "";
        if (filter is not null)
        {
            conditions += " and w.tray = @tray";
            command.Parameters.AddWithValue("tray", Codes.Of(filter.Tray));
        }

        if (one is { } infant)
        {
            conditions += " and w.infant_id = @one";
            command.Parameters.AddWithValue("one", infant.Value);
        }

        if (ListPosition.Read(after, 2) is [{ } rank, { } last] && Guid.TryParse(last, out var id)
            && long.TryParse(rank, NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out var at))
        {
            conditions += " and (w.rank, w.infant_id) > (@after_rank, @after_id)";
            command.Parameters.AddWithValue("after_rank", at);
            command.Parameters.AddWithValue("after_id", id);
        }

        var parts = Parts(command, filter, viewer);
        var from = parts is [var only] ? only + conditions
            : $"from ({Each(parts, part => $"(select w.* {part}{conditions} order by w.rank, w.infant_id limit @limit)")}) w";
        command.Parameters.AddWithValue("own_site", viewer.SiteId?.Value ?? Guid.Empty);
        command.Parameters.AddNullable("limit", limit, NpgsqlDbType.Integer);
        command.CommandText = Sql.Replace("{from}", from, StringComparison.Ordinal);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) yield return Read(r);
    }

    /// <summary><c>from … where …</c>: the work <c>w</c> the viewer sees, with the site <c>rs</c> that owns the next step; binds the
    /// values. A case worker's is that of each county and of infants shown one by one: parts, so that an index gives the first rows of
    /// each in their order. No infant is in two.</summary>
    private static IReadOnlyList<string> Parts(NpgsqlCommand command, WorkFilter? filter, Viewer viewer)
    {
        Visibility.Bind(command, viewer);
        var conditions = string.Join(" and ", (filter?.Conditions(command, viewer) ?? []).Prepend(Visibility.Where("w.infant_id")));
        var sees = viewer.IsCaseWorker ? [.. OfCounties(command, viewer), OneByOne(command, viewer)] : new[] { "true" };
        return [.. sees.Select(s =>
            $"from infant_work w join sites rs on rs.id = w.responsible_site_id where {s} and {conditions}")];
    }

    /// <summary>How many are in each tray: what is kept of sites, counties and the region, where the filter asks for no more.</summary>
    private static string CountSql(NpgsqlCommand command, WorkFilter filter, Viewer viewer)
    {
        var sees = viewer.IsCoordinator || viewer.SiteId is not null || viewer.IsCaseWorker && filter is { Site: null, County: null };
        if (!filter.IsOfSitesAndSteps || !sees)
            return Each(Parts(command, filter, viewer), part => $"select w.tray, count(*) {part} group by w.tray");
        var conditions = string.Concat(filter.Conditions(command, viewer).Select(c => " and " + c));
        if (viewer.IsCaseWorker)
        {
            Visibility.Bind(command, viewer);
            return Each([.. OfCounties(command, viewer).Select(c => $"sum(w.infants) from work_counts w where {c}"),
                "count(*) from infant_work w where " + OneByOne(command, viewer)], s => $"select w.tray, {s}{conditions} group by w.tray");
        }

        return viewer.IsCoordinator && filter is { Site: null, County: null }
            ? "select w.tray, sum(w.infants) from work_counts w where w.responsible_site_id is null and w.county_key is null"
                + $"{conditions} group by w.tray"
            : "select w.tray, sum(w.infants) from work_counts w join sites rs on rs.id = w.responsible_site_id "
                + $"where true{conditions} group by w.tray";
    }

    private static string Each(IEnumerable<string> parts, Func<string, string> select) => string.Join(" union all ", parts.Select(select));

    /// <summary>Of each of a case worker's counties.</summary>
    private static IEnumerable<string> OfCounties(NpgsqlCommand command, Viewer viewer) =>
        viewer.Counties.Select(InfantShown.ToCounty).Distinct().Select((county, i) =>
        {
            command.Parameters.AddWithValue($"county_{i}", county);
            return $"w.county_key = @county_{i}";
        });

    /// <summary>Of infants shown to them one by one, but for those of their counties.</summary>
    private static string OneByOne(NpgsqlCommand command, Viewer viewer)
    {
        command.Parameters.AddWithValue("one_by_one", viewer.OneByOne.ToArray());
        return "w.infant_id = any (array(select infant_id from infant_shown where shown_to = any (@one_by_one))) "
            + "and (w.county_key = any (@viewer_keys)) is not true";
    }

    private static WorkRow Read(NpgsqlDataReader r)
    {
        var call = WhomToCall.Of(r.TextOrNull(15), r.TextOrNull(16), r.TextOrNull(23));
        return new()
        {
            Id = new(r.GetGuid(0)),
            Tray = r.Code<WorkTray>(1),
            Step = r.Code<DueStep>(2),
            DueOn = r.Date(3),
            Position = ListPosition.Of(r.GetInt64(4).ToString(CultureInfo.InvariantCulture), r.GetGuid(0).ToString()),
            Reasons = JsonSerializer.Deserialize<List<WorkReason>>(r.GetString(5), StoreWork.ReasonJson)!,
            BornOn = r.Date(6),
            Screening = r.Code<ScreeningConclusion>(7),
            Hearing = r.Code<HearingConclusion>(8),
            Flags = (StatusFlags)r.GetInt32(9),
            Site = new(r.GetString(10), r.TextOrNull(21), r.TextOrNull(22)),
            Child = $"{r.TextOrNull(11)} {r.TextOrNull(12)}".Trim(),
            Mother = $"{r.TextOrNull(13)} {r.TextOrNull(14)}".Trim(),
            Phone = call.Phone,
            Language = call.Language,
            RecordNumber = r.TextOrNull(17),
            Attempts = r.GetInt32(18),
            LastOn = r.ValueOrNull<DateOnly>(19),
            LastOutcome = r.CodeOrNull<ContactOutcome>(20),
        };
    }
}
