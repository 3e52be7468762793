using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Facts;

/// <summary>Every fact of one infant as known at a moment, those that hold no more included.</summary>
public static class FactHistory
{
    private static readonly IReadOnlyList<string> Statements =
        [.. FactKinds.All.Select(k => k.Fill(EmbeddedSql.Read(typeof(FactHistory), nameof(FactHistory))))];

    /// <summary>In the order of the kinds. What was closed later than <paramref name="known"/> is given with the moment it was.</summary>
    public static async Task<IReadOnlyList<RecordedFact>> ReadAsync(
        NpgsqlConnection connection, InfantId infant, DateTimeOffset known, CancellationToken ct)
    {
        var facts = new List<RecordedFact>();
        await using var batch = new NpgsqlBatch(connection);
        foreach (var sql in Statements)
            batch.BatchCommands.Add(new(sql) { Parameters = { new("infant", infant.Value), new("known", known.ToUniversalTime()) } });
        await using var reader = await batch.ExecuteReaderAsync(ct);
        foreach (var kind in FactKinds.All)
        {
            while (await reader.ReadAsync(ct)) facts.Add(Read(kind, reader));
            await reader.NextResultAsync(ct);
        }

        return facts;
    }

    /// <summary>A row of FactHistory.sql: the kind's own columns stand between those every fact has.</summary>
    private static RecordedFact Read(FactKind kind, NpgsqlDataReader row)
    {
        var rest = FactKind.FirstOwn + kind.Columns.Count;
        return new()
        {
            InfantId = row.GetGuid(FactKind.Infant),
            SiteId = row.GetGuid(FactKind.Site),
            Fact = kind.Read(row),
            Id = row.GetGuid(rest),
            RecordedAt = row.Moment(rest + 1),
            SupersededAt = row.ValueOrNull<DateTimeOffset>(rest + 2),
            SubmissionId = row.ValueOrNull<Guid>(rest + 3) is { } submission ? new(submission) : default,
            RowNumber = row.ValueOrNull<int>(rest + 4) ?? 0,
            Stored = true,
        };
    }
}
