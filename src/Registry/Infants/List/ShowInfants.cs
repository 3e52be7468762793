using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Infants.Statuses;
using Registry.Ui;

namespace Registry.Infants.List;

/// <summary>One page of a list, and what must be said beside it.</summary>
/// <param name="Statuses">The day.</param>
/// <param name="Total">How many match, or how far they were counted.</param>
/// <param name="More">Whether more match than that.</param>
/// <param name="Rows">In order.</param>
/// <param name="Next">Opaque position of the next page; null on the last.</param>
public sealed record InfantsPage(StatusesAsOf Statuses, long Total, bool More, IReadOnlyList<InfantRow> Rows, string? Next);

/// <summary>Shows the infants the viewer sees that match a filter, on the as-of day of the page: a page of them, or all of them to take
/// away. The read is recorded before anything is sent.</summary>
public sealed class ShowInfants(
    StatusSource source, ListInfants list, AuditReads audit, AsOf asOf, Viewer viewer, IOptions<InfantsOptions> options)
{
    /// <param name="filter">Which.</param>
    /// <param name="sort">By what, with a minus before it the other way round.</param>
    /// <param name="after">Where the page before ended; null: the first.</param>
    /// <param name="all">Counts all of them, however many.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<InfantsPage> PageAsync(InfantFilter filter, string sort, string? after, bool all, CancellationToken ct)
    {
        var statuses = await source.AsOfAsync(asOf.Date, ct);
        var (rows, next) = await list.PageAsync(statuses, filter, viewer, sort, after, ct);
        var recorded = audit.ListAsync(rows.Select(r => r.Id), ct); // while the rest is counted; nothing is sent before both are done
        var most = options.Value.CountedTo;
        var total = await list.CountAsync(statuses, filter, viewer, all ? null : most + 1, ct);
        await recorded;
        return !all && total > most ? new(statuses, most, true, rows, next) : new(statuses, total, false, rows, next);
    }

    /// <summary>The rows of a file, one at a time.</summary>
    public async Task<IAsyncEnumerable<object?[]>> RowsAsync(
        InfantFilter filter, string sort, IReadOnlyList<InfantColumn> columns, CancellationToken ct)
    {
        var statuses = await source.AsOfAsync(asOf.Date, ct);
        await audit.ListAsync(await list.IdsAsync(statuses, filter, viewer, ct), ct);
        return list.AllAsync(statuses, filter, viewer, sort, ct)
            .Select(row => columns.Select(column => column.Value(row, statuses)).ToArray());
    }
}
