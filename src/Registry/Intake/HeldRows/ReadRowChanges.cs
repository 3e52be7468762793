using Npgsql;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.HeldRows;

/// <summary>One entry of a row's history, with the row as it was before and after, for who may see the row.</summary>
public sealed record RowChangeLine(
    long Id, RowChangeKind Kind, DateTimeOffset At, string Person, Guid? BulkId, long? TakesBack, IReadOnlyDictionary<Field, string> Before,
    IReadOnlyDictionary<Field, string> After)
{
    /// <summary>Of a correction: what the reader of the file had found, and the person answered.</summary>
    public IReadOnlyList<Problem> Answered { get; init; } = [];

    /// <summary>The columns that changed: what stood there, what stands there since.</summary>
    public IEnumerable<(Field Field, string Before, string After)> Fields =>
        Before.Keys.Union(After.Keys).Order().Select(f => (f, Before.GetValueOrDefault(f, ""), After.GetValueOrDefault(f, "")))
            .Where(f => f.Item2 != f.Item3);
}

/// <summary>Reads what persons did with a row.</summary>
public sealed class ReadRowChanges(NpgsqlDataSource source)
{
    /// <param name="id">Its submission.</param>
    /// <param name="row">Its number.</param>
    /// <param name="content">The row as it is now, in JSON.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>Oldest first.</returns>
    public async Task<IReadOnlyList<RowChangeLine>> RunAsync(SubmissionId id, int row, string content, CancellationToken ct)
    {
        await using var command = source.CreateCommand(EmbeddedSql.Of<ReadRowChanges>());
        command.Parameters.AddWithValue(id.Value);
        command.Parameters.AddWithValue(row);
        var changes = new List<RowChangeLine>();
        var after = RowContent.Fields(content);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            var before = RowContent.Fields(RowContent.Open(r.GetString(6)));
            changes.Add(new(
                r.GetInt64(0), r.Code<RowChangeKind>(1), r.Moment(2), r.GetString(3), r.ValueOrNull<Guid>(4), r.ValueOrNull<long>(5),
                before, after)
            {
                Answered = ProblemsJson.FoundByReader(r.TextOrNull(7)),
            });
            after = before;
        }

        changes.Reverse();
        return changes;
    }
}
