using Microsoft.EntityFrameworkCore;
using Npgsql;
using NpgsqlTypes;
using Registry.Access;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Accounts;

/// <summary>One line of the access trail, with names for ids.</summary>
/// <param name="InList">The infant was one of several shown.</param>
/// <param name="Role">What the person is now; null for a system.</param>
/// <param name="Site">Where the person begins, or the system's; null: the program.</param>
public sealed record Read(
    long Id, DateTimeOffset At, AccessKind Kind, string Who, string Action, string? Handler, string? Filter, int Infants, bool InList,
    string? Note, string? Address, InfantId? Infant, Role? Role, string? Site);

/// <summary>Which lines of the trail.</summary>
/// <param name="Before">Only entries before this one; null: from the latest.</param>
public sealed record ReadsAsked(AccessKind? Kind, DateOnly? From, DateOnly? To, long? Before);

/// <summary>A page of the trail, latest first.</summary>
/// <param name="Next">Where the next page begins; null on the last.</param>
public sealed record ReadsPage(IReadOnlyList<Read> Reads, long? Next);

/// <summary>Lists the access trail: of one infant, lists and exports that held it included, or of everybody.</summary>
public sealed class ListReads(NpgsqlDataSource source, RegistryDb db, Viewer viewer, ProgramClock clock)
{
    public const int PageSize = 100;

    private static readonly string Sql = EmbeddedSql.Of<ListReads>();

    /// <returns>Null when the viewer sees no such infant.</returns>
    /// <remarks>An auditor sees no infant, and so no name: whose record it is says only its id.</remarks>
    public async Task<ReadsPage?> OfAsync(InfantId infant, ReadsAsked asked, CancellationToken ct) =>
        viewer.IsAuditor || await db.VisibleInfants(viewer).AnyAsync(i => i.Id == infant, ct)
            ? await ReadAsync(infant, asked, ct) : null;

    /// <summary>The last few of an infant the viewer was shown, beside its record.</summary>
    public async Task<IReadOnlyList<Read>> LastAsync(InfantId infant, int few, CancellationToken ct) =>
        (await ReadAsync(infant, new(null, null, null, null), ct, few)).Reads;

    public Task<ReadsPage> AllAsync(ReadsAsked asked, CancellationToken ct) => ReadAsync(null, asked, ct);

    private async Task<ReadsPage> ReadAsync(InfantId? infant, ReadsAsked asked, CancellationToken ct, int most = PageSize)
    {
        await using var command = source.CreateCommand(Sql);
        command.Parameters.AddNullable("infant", infant?.Value, NpgsqlDbType.Uuid);
        command.Parameters.AddCode("kind", asked.Kind);
        command.Parameters.AddNullable("from", asked.From is { } from ? clock.EndOf(from.AddDays(-1)).ToUniversalTime() : null,
            NpgsqlDbType.TimestampTz);
        command.Parameters.AddNullable("to", asked.To is { } to ? clock.EndOf(to).ToUniversalTime() : null, NpgsqlDbType.TimestampTz);
        command.Parameters.AddNullable("before", asked.Before, NpgsqlDbType.Bigint);
        command.Parameters.AddWithValue("limit", most + 1);
        await using var r = await command.ExecuteReaderAsync(ct);
        var reads = new List<Read>();
        while (await r.ReadAsync(ct))
            reads.Add(new(r.GetInt64(0), r.Moment(1), r.Code<AccessKind>(2), r.GetString(3), r.GetString(4), r.TextOrNull(5),
                r.TextOrNull(6), r.GetInt32(7), r.GetBoolean(8), r.TextOrNull(9), r.TextOrNull(10),
                r.ValueOrNull<Guid>(11) is { } id ? new InfantId(id) : null, r.CodeOrNull<Role>(12), r.TextOrNull(13)));
        if (reads.Count <= most) return new(reads, null);
        reads.RemoveAt(most);
        return new(reads, reads[^1].Id);
    }
}
