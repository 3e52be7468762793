using System.Globalization;
using System.Runtime.CompilerServices;
using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Applying;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.HeldRows;

public sealed record WaitingLine(
    SubmissionId SubmissionId, int Row, int Line, RowKind? Kind, RowOutcome Outcome, SiteId SiteId, string SiteName, DateTimeOffset Since,
    HoldReason? Hold, IReadOnlyList<Problem> Problems);

/// <summary>A site's waiting rows by how long they wait.</summary>
public sealed record WaitingSite(SiteId SiteId, string Code, string Name, IReadOnlyDictionary<WaitingAge, int> Rows);

/// <summary>What rows have alike: one site and kind, one reason.</summary>
public sealed record WaitingGroup(string SiteCode, string SiteName, string Kind, RowOutcome Outcome, HoldReason? Hold, string? Field,
    string? Reason);

/// <summary>The waiting rows in numbers. In the groups, most rows first, a row with two problems counts under both.</summary>
public sealed record WaitingOverview(int Total, IReadOnlyList<WaitingSite> Sites, IReadOnlyList<(WaitingGroup Group, int Rows)> Groups);

/// <summary>Where a person who works through the waiting rows goes on.</summary>
/// <param name="IsAlike">The row is of the same kind and reason, not only of the same site.</param>
public sealed record NextWaitingRow(SubmissionId Id, int Row, bool IsAlike);

/// <summary>Lists the rows that wait for a person: of one site, or with null of all. It shows no value of a row.</summary>
public sealed class ListWaitingRows(NpgsqlDataSource source, ProgramClock clock)
{
    public const int PageSize = 50;

    private readonly record struct Position(DateTimeOffset Since, Guid Submission, int Row);

    /// <summary>A page, oldest first, after a position of an earlier page (null or unreadable: the first), and the position of its end when
    /// more follow.</summary>
    public async Task<(IReadOnlyList<WaitingLine> Lines, string? Next)> PageAsync(WaitingFilter filter, string? after, CancellationToken ct)
    {
        var lines = new List<WaitingLine>();
        await foreach (var line in ReadAsync(filter, PositionOf(after), PageSize + 1, ct)) lines.Add(line);
        if (lines.Count <= PageSize) return (lines, null);
        lines.RemoveAt(PageSize);
        return (lines, After(lines[^1]));
    }

    /// <summary>All of them, oldest first, as they are read: none is held in memory.</summary>
    public IAsyncEnumerable<WaitingLine> AllAsync(WaitingFilter filter, CancellationToken ct) => ReadAsync(filter, null, null, ct);

    /// <summary>How many rows wait, by site and age (whatever age the filter names), by what they have alike, and in all.</summary>
    public async Task<WaitingOverview> OverviewAsync(WaitingFilter filter, CancellationToken ct)
    {
        await using var command = source.CreateCommand(WaitingFilter.Over("CountWaitingRows"));
        (filter with { Age = null }).Bind(command, clock);
        command.Parameters.AddWithValue("today", WaitingFilter.Start(WaitingAge.Today, clock).ToUniversalTime());
        command.Parameters.AddWithValue("week", WaitingFilter.Start(WaitingAge.Week, clock).ToUniversalTime());
        command.Parameters.AddWithValue("month", WaitingFilter.Start(WaitingAge.Month, clock).ToUniversalTime());
        var count = new CountWaiting(filter.Age);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct)) count.Add(r);
        return count.Overview();
    }

    /// <summary>How many rows wait, held and rejected.</summary>
    public async Task<(int Held, int Rejected)> CountAsync(WaitingFilter filter, CancellationToken ct)
    {
        await using var command = source.CreateCommand(WaitingFilter.Over("CountHeldAndRejected"));
        filter.Bind(command, clock);
        await using var r = await command.ExecuteReaderAsync(ct);
        await r.ReadAsync(ct);
        return (r.GetInt32(0), r.GetInt32(1));
    }

    /// <summary>The oldest other row of the same site that waits: one like this where there is one, else any.</summary>
    public async Task<NextWaitingRow?> NextAsync(WaitingRow row, CancellationToken ct)
    {
        var ofSite = new WaitingFilter(row.Content.SiteId);
        if (row.Waits && await NextAsync(LikeIt(row, ofSite), row.Content, ct) is { } alike) return new(alike.Id, alike.Row, true);
        return await NextAsync(ofSite, row.Content, ct) is { } other ? new(other.Id, other.Row, false) : null;
    }

    private static WaitingFilter LikeIt(WaitingRow row, WaitingFilter ofSite)
    {
        var like = ofSite with { Outcome = row.Outcome, Kind = row.Kind is { } kind ? Codes.Of(kind) : "unknown" };
        if (row.IsHeld) return like with { Hold = row.Reason };
        return row.Problems is [var first, ..] ? like with { Field = first.Field, Reason = first.Reason } : like;
    }

    private async Task<(SubmissionId Id, int Row)?> NextAsync(WaitingFilter filter, HeldContent except, CancellationToken ct)
    {
        await using var command = source.CreateCommand(WaitingFilter.Over("NextWaitingRow"));
        filter.Bind(command, clock);
        command.Parameters.AddWithValue("except", except.SubmissionId.Value);
        command.Parameters.AddWithValue("row", except.RowNumber);
        await using var r = await command.ExecuteReaderAsync(ct);
        return await r.ReadAsync(ct) ? (new(r.GetGuid(0)), r.GetInt32(1)) : null;
    }

    private async IAsyncEnumerable<WaitingLine> ReadAsync(
        WaitingFilter filter, Position? after, int? take, [EnumeratorCancellation] CancellationToken ct)
    {
        await using var command = source.CreateCommand(WaitingFilter.Over("ListWaitingRows"));
        filter.Bind(command, clock);
        command.Parameters.AddNullable("after_since", after?.Since, NpgsqlDbType.TimestampTz);
        command.Parameters.AddNullable("after_id", after?.Submission, NpgsqlDbType.Uuid);
        command.Parameters.AddNullable("after_row", after?.Row, NpgsqlDbType.Integer);
        command.Parameters.AddNullable("take", take, NpgsqlDbType.Integer);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            yield return new(
                new(r.GetGuid(0)), r.GetInt32(1), r.GetInt32(2), r.CodeOrNull<RowKind>(3), r.Code<RowOutcome>(4), new(r.GetGuid(5)),
                r.GetString(9), r.Moment(6), r.CodeOrNull<HoldReason>(7), ProblemsJson.Read(r.TextOrNull(8)));
        }
    }

    private static string After(WaitingLine line) => ListPosition.Of(
        ListPosition.Moment(line.Since), line.SubmissionId.Value.ToString("N"), line.Row.ToString(CultureInfo.InvariantCulture));

    private static Position? PositionOf(string? after) =>
        ListPosition.Read(after, 3) is [var since, var submission, var row] && ListPosition.Moment(since) is { } moment
            && Guid.TryParse(submission, out var id) && int.TryParse(row, NumberStyles.None, CultureInfo.InvariantCulture, out var number)
            ? new(moment, id, number) : null;
}
