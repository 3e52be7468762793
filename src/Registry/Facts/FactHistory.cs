using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Facts;

/// <summary>All that was said of one infant, as known at a moment.</summary>
/// <param name="Facts">Those that hold no more included.</param>
/// <param name="Numbers">Record numbers and cards, likewise.</param>
/// <param name="Closings">How rows closed facts and numbers.</param>
public sealed record SaidOfInfant(
    IReadOnlyList<RecordedFact> Facts, IReadOnlyList<InfantIdentifier> Numbers, IReadOnlyList<CorrectionRecord> Closings);

/// <summary>Every fact of one infant as known at a moment, those that hold no more included.</summary>
public static class FactHistory
{
    private const string NumbersSql =
        "select id, site_id, kind, value, recorded_at, superseded_at, submission_id, row_number "
            + "from infant_identifiers where infant_id = @infant and recorded_at <= @known";

    private const string ClosingsSql =
        "select id, site_id, fact_id, action, kind, recorded_at, submission_id, row_number from corrections "
            + "where infant_id = @infant and recorded_at <= @known and (superseded_at is null or superseded_at > @known)";

    private static readonly IReadOnlyList<string> Statements =
        [.. FactKinds.All.Select(k => k.Fill(EmbeddedSql.Read(typeof(FactHistory), nameof(FactHistory))))];

    /// <summary>In the order of the kinds. What was closed later than <paramref name="known"/> is given with the moment it was.</summary>
    public static async Task<IReadOnlyList<RecordedFact>> ReadAsync(
        NpgsqlConnection connection, InfantId infant, DateTimeOffset known, CancellationToken ct)
    {
        await using var batch = Batch(connection, Statements, infant, known);
        await using var reader = await batch.ExecuteReaderAsync(ct);
        return await FactsAsync(reader, ct);
    }

    /// <summary>The facts with the numbers and what was closed, in one go.</summary>
    public static async Task<SaidOfInfant> AllAsync(
        NpgsqlConnection connection, InfantId infant, DateTimeOffset known, CancellationToken ct)
    {
        await using var batch = Batch(connection, [.. Statements, NumbersSql, ClosingsSql], infant, known);
        await using var reader = await batch.ExecuteReaderAsync(ct);
        var facts = await FactsAsync(reader, ct);
        var numbers = new List<InfantIdentifier>();
        while (await reader.ReadAsync(ct)) numbers.Add(Number(reader, infant));
        await reader.NextResultAsync(ct);
        var closings = new List<CorrectionRecord>();
        while (await reader.ReadAsync(ct)) closings.Add(Closing(reader, infant));
        return new(facts, numbers, closings);
    }

    private static NpgsqlBatch Batch(
        NpgsqlConnection connection, IEnumerable<string> statements, InfantId infant, DateTimeOffset known)
    {
        var batch = new NpgsqlBatch(connection);
        foreach (var sql in statements)
            batch.BatchCommands.Add(new(sql) { Parameters = { new("infant", infant.Value), new("known", known.ToUniversalTime()) } });
        return batch;
    }

    private static async Task<List<RecordedFact>> FactsAsync(NpgsqlDataReader reader, CancellationToken ct)
    {
        var facts = new List<RecordedFact>();
        foreach (var kind in FactKinds.All)
        {
            while (await reader.ReadAsync(ct)) facts.Add(RecordedFact.Read(kind, reader));
            await reader.NextResultAsync(ct);
        }

        return facts;
    }

    private static InfantIdentifier Number(NpgsqlDataReader r, InfantId infant) => new()
    {
        InfantId = infant,
        Id = r.GetGuid(0),
        SiteId = new(r.GetGuid(1)),
        Kind = r.Code<IdentifierKind>(2),
        Value = r.GetString(3),
        RecordedAt = r.Moment(4),
        SupersededAt = r.ValueOrNull<DateTimeOffset>(5),
        SubmissionId = r.ValueOrNull<Guid>(6) is { } submission ? new(submission) : null,
        RowNumber = r.ValueOrNull<int>(7),
    };

    private static CorrectionRecord Closing(NpgsqlDataReader r, InfantId infant) => new()
    {
        InfantId = infant,
        Id = r.GetGuid(0),
        SiteId = new(r.GetGuid(1)),
        FactId = r.GetGuid(2),
        Action = r.Code<RowAction>(3),
        Kind = r.Code<RowKind>(4),
        RecordedAt = r.Moment(5),
        SubmissionId = r.ValueOrNull<Guid>(6) is { } submission ? new(submission) : null,
        RowNumber = r.ValueOrNull<int>(7),
    };
}
