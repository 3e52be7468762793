using Npgsql;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Facts;

/// <summary>One fact on its way into a table, or already there (<see cref="Stored"/>).</summary>
public sealed class RecordedFact
{
    public required Guid Id { get; init; }
    public required Guid InfantId { get; init; }
    public required Guid SiteId { get; init; }

    /// <summary>Whose words it is: of a birth, the site of the row that stated it last, which need not be the birth site.</summary>
    public Guid SaidBy { get => field == default ? SiteId : field; init; }

    public required ReportedFact Fact { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public DateTimeOffset? SupersededAt { get; set; }
    public SubmissionId SubmissionId { get; init; }
    public int RowNumber { get; init; }
    public bool Stored { get; init; }

    /// <summary>How a row of its site closed it; null while it holds.</summary>
    public RowAction? ClosedBy { get; set; }

    /// <summary>The first column after those every stored fact is read from: infant, site, the kind's own, id, submission and row, when
    /// recorded, when superseded.</summary>
    internal static int RestOf(FactKind kind) => FactKind.FirstOwn + kind.Columns.Count + 5;

    /// <summary>The stored fact in the row the reader is at.</summary>
    internal static RecordedFact Read(FactKind kind, NpgsqlDataReader row, Guid saidBy = default, RowAction? closedBy = null)
    {
        var common = FactKind.FirstOwn + kind.Columns.Count;
        return new()
        {
            InfantId = row.GetGuid(FactKind.Infant),
            SiteId = row.GetGuid(FactKind.Site),
            Fact = kind.Read(row),
            Id = row.GetGuid(common),
            SubmissionId = row.ValueOrNull<Guid>(common + 1) is { } submission ? new(submission) : default,
            RowNumber = row.ValueOrNull<int>(common + 2) ?? 0,
            RecordedAt = row.Moment(common + 3),
            SupersededAt = row.ValueOrNull<DateTimeOffset>(common + 4),
            SaidBy = saidBy,
            ClosedBy = closedBy,
            Stored = true,
        };
    }
}

/// <summary>The facts of some infants, of the kinds some rows report, by infant: those that hold, and those their site corrected or
/// retracted. Grows as rows are applied.</summary>
public sealed class RecordedFacts
{
    private static readonly IReadOnlyList<(FactKind Kind, string Sql)> Statements =
        [.. FactKinds.All.Select(k => (k, k.Fill(EmbeddedSql.Of<RecordedFacts>())))];

    private readonly Dictionary<Guid, List<RecordedFact>> _held = [];
    private readonly Dictionary<Guid, List<RecordedFact>> _closed = [];

    /// <summary>What holds.</summary>
    public IReadOnlyList<RecordedFact> Of(Guid infantId) => _held.TryGetValue(infantId, out var facts) ? facts : [];

    /// <summary>What a row closed and nobody restated since; not what a person took back.</summary>
    public IReadOnlyList<RecordedFact> ClosedOf(Guid infantId) => _closed.TryGetValue(infantId, out var facts) ? facts : [];

    public void Add(RecordedFact fact)
    {
        var facts = fact.ClosedBy is null ? _held : _closed;
        if (!facts.TryGetValue(fact.InfantId, out var ofInfant)) facts[fact.InfantId] = ofInfant = [];
        ofInfant.Add(fact);
    }

    /// <summary>A closed fact no longer speaks.</summary>
    public void Close(RecordedFact fact, RowAction by)
    {
        _held[fact.InfantId].Remove(fact);
        fact.ClosedBy = by;
        Add(fact);
    }

    public static async Task<RecordedFacts> LoadAsync(
        NpgsqlConnection connection, IReadOnlyCollection<Guid> infants, IReadOnlySet<RowKind> kinds, CancellationToken ct)
    {
        var recorded = new RecordedFacts();
        if (infants.Count == 0) return recorded;
        var asked = Statements.Where(s => kinds.Contains(s.Kind.Kind)).ToList();
        if (asked.Count == 0) return recorded;
        await using var batch = new NpgsqlBatch(connection);
        foreach (var (_, sql) in asked) batch.BatchCommands.Add(new(sql) { Parameters = { new("infants", infants.ToArray()) } });
        await using var reader = await batch.ExecuteReaderAsync(ct);
        foreach (var (kind, _) in asked)
        {
            while (await reader.ReadAsync(ct)) recorded.Add(Read(kind, reader));
            await reader.NextResultAsync(ct);
        }

        return recorded;
    }

    /// <summary>A row of RecordedFacts.sql.</summary>
    private static RecordedFact Read(FactKind kind, NpgsqlDataReader row)
    {
        var rest = RecordedFact.RestOf(kind);
        return RecordedFact.Read(kind, row, row.ValueOrNull<Guid>(rest) ?? default, row.CodeOrNull<RowAction>(rest + 1));
    }
}
