using Npgsql;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Facts;

/// <summary>Collects what some rows add and writes it with one binary COPY per table.</summary>
internal sealed class WriteFacts
{
    private readonly List<(Guid Id, DateTimeOffset At)> _infants = [];
    private readonly List<(IdentifierKind Kind, string Value, Guid InfantId, Provenance By)> _identifiers = [];
    private readonly Dictionary<FactKind, List<RecordedFact>> _facts = [];
    private readonly List<(RecordedFact Fact, DateTimeOffset At)> _superseded = [];
    private readonly List<(RecordedFact Fact, Provenance By)> _corrections = [];

    public void AddInfant(Guid id, DateTimeOffset at) => _infants.Add((id, at));

    public void AddIdentifier(IdentifierKind kind, string value, Guid infantId, Provenance by) =>
        _identifiers.Add((kind, value, infantId, by));

    public void Add(RecordedFact fact)
    {
        var kind = FactKinds.Of(fact.Fact);
        if (!_facts.TryGetValue(kind, out var facts)) _facts[kind] = facts = [];
        facts.Add(fact);
    }

    /// <summary>Closes a fact, in the table or before it gets there, and says which row did it.</summary>
    public void Close(RecordedFact fact, Provenance by)
    {
        if (fact.Stored) _superseded.Add((fact, by.RecordedAt));
        else fact.SupersededAt = by.RecordedAt;
        _corrections.Add((fact, by));
    }

    public async Task RunAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await SupersedeAsync(connection, ct);
        await CopyRows.RunAsync(connection, "copy infants (id, created_at) from stdin (format binary)", _infants, static (w, i) =>
        {
            w.Id(i.Id);
            w.Moment(i.At);
        }, ct);
        await CopyRows.RunAsync(connection,
            $"copy {FactKinds.Identifiers} (id, kind, value, infant_id, site_id, recorded_at, submission_id, row_number) "
                + "from stdin (format binary)",
            _identifiers, static (w, i) =>
            {
                w.Id(Guid.CreateVersion7());
                w.Code(i.Kind);
                w.Text(i.Value);
                Common(w, i.InfantId, i.By);
            }, ct);
        await CopyRows.RunAsync(connection,
            "copy corrections (id, kind, fact_id, action, infant_id, site_id, recorded_at, submission_id, row_number) "
                + "from stdin (format binary)",
            _corrections, static (w, c) =>
            {
                w.Id(Guid.CreateVersion7());
                w.Code(c.By.Kind);
                w.Id(c.Fact.Id);
                w.Code(c.By.Action);
                Common(w, c.Fact.InfantId, c.By);
            }, ct);
        foreach (var kind in FactKinds.All)
            if (_facts.TryGetValue(kind, out var facts)) await kind.WriteAsync(connection, facts, ct);
    }

    private static void Common(NpgsqlBinaryImporter row, Guid infantId, in Provenance by)
    {
        row.Id(infantId);
        row.Id(by.SiteId.Value);
        row.Moment(by.RecordedAt);
        row.Id(by.SubmissionId.Value);
        row.Number(by.RowNumber);
    }

    private async Task SupersedeAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        foreach (var group in _superseded.GroupBy(s => FactKinds.Of(s.Fact.Fact).Table))
        {
            await using var command = new NpgsqlCommand(
                $"""
                update {group.Key} f set superseded_at = greatest(f.recorded_at, closed.at)
                  from unnest($1::uuid[], $2::timestamptz[]) as closed (id, at) where f.id = closed.id and f.superseded_at is null
                """, connection);
            command.Parameters.AddWithValue(group.Select(s => s.Fact.Id).ToArray());
            command.Parameters.AddWithValue(group.Select(s => s.At).ToArray());
            await command.ExecuteNonQueryAsync(ct);
        }
    }
}
