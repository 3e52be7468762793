using Npgsql;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

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
        await using var command = source.CreateCommand(
            """
            select c.id, c.kind, c.at, coalesce(p.display_name, ''), c.bulk_id, c.takes_back, c.before -> 'row' ->> 'content', case when c.kind = 'corrected' then c.before -> 'row' ->> 'problems' end
              from row_changes c left join people p on p.id = c.person_id where c.submission_id = $1 and c.row_number = $2 order by c.id desc
            """);
        command.Parameters.AddWithValue(id.Value);
        command.Parameters.AddWithValue(row);
        var changes = new List<RowChangeLine>();
        var after = RowContent.Fields(content);
        await using var r = await command.ExecuteReaderAsync(ct);
        while (await r.ReadAsync(ct))
        {
            var before = RowContent.Fields(r.GetString(6));
            changes.Add(new(
                r.GetInt64(0), Codes.Parse<RowChangeKind>(r.GetString(1)), r.GetFieldValue<DateTimeOffset>(2), r.GetString(3),
                r.IsDBNull(4) ? null : r.GetGuid(4), r.IsDBNull(5) ? null : r.GetInt64(5), before, after)
            {
                Answered = ProblemsJson.FoundByReader(r.IsDBNull(7) ? null : r.GetString(7)),
            });
            after = before;
        }

        changes.Reverse();
        return changes;
    }
}
