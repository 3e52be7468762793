using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.Record;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>What somebody typed, and what became of it.</summary>
public sealed record TypedEntry(SubmissionStatus Submission, IReadOnlyList<RowReport> Rows)
{
    /// <summary>The rows that recorded something.</summary>
    public IReadOnlySet<int> Recorded { get; } =
        Rows.Where(r => r.Outcome == Codes.Of(RowOutcome.Accepted)).Select(r => r.Row).ToHashSet();

    /// <summary>Whose record has it: of a row that waits, nobody is told whom it may be about.</summary>
    public InfantId? Infant => Rows.Where(r => r.Outcome == Codes.Of(RowOutcome.Accepted) || r.Outcome == Codes.Of(RowOutcome.Unchanged))
        .Select(r => r.InfantId).FirstOrDefault(i => i is not null);
}

/// <summary>
/// Finds a typed entry for who may look at it and take it back: whoever submits for its site; and a case worker, who has none, what they
/// typed of a family themselves, while they see the infant by more than a broken glass.
/// </summary>
public sealed class FindEntry(ReadSubmissions read, ViewerDatabase data, WriteForInfant write, Viewer viewer)
{
    private const int MostRows = 10;

    private static readonly HashSet<RowKind> OfFamily = [.. Enum.GetValues<RowKind>().Where(EnterWords.IsOfFamily)];

    /// <returns>Null for one the viewer may not see, exactly as for one that does not exist.</returns>
    public async Task<TypedEntry?> OfAsync(SubmissionId id, CancellationToken ct)
    {
        if (await read.StatusAsync(id, ct) is not { Format: SubmissionFormat.Typed } status) return null;
        var entry = new TypedEntry(status, (await read.RowsAsync(id, new(), 0, MostRows, ct)).Rows);
        return viewer.MaySubmitFor(status.SiteId) || (viewer.IsCaseWorker && await IsOwnAsync(entry, ct)) ? entry : null;
    }

    /// <summary>Whether somebody else said the same of the family at another time: an undo is by what was said, and would take that back
    /// too.</summary>
    public async Task<bool> IsSaidElsewhereAsync(TypedEntry entry, CancellationToken ct)
    {
        if (entry.Infant is not { } infant || !entry.Rows.All(r => IsOfFamily(r))) return false;
        await using var connection = await data.OpenAsync(viewer, ct);
        var facts = await RecordedFacts.LoadAsync(connection, [infant.Value], OfFamily, ct);
        var typed = facts.Of(infant.Value).Concat(facts.ClosedOf(infant.Value)).Where(f => f.SubmissionId.Value == entry.Submission.Id)
            .Select(f => f.Fact).ToHashSet();
        return facts.Of(infant.Value).Any(f =>
            f.SubmissionId.Value != entry.Submission.Id && f.SiteId == entry.Submission.SiteId.Value && typed.Contains(f.Fact));
    }

    /// <summary>Whether it closed what was recorded before.</summary>
    public async Task<bool> ReplacedAsync(TypedEntry entry, CancellationToken ct)
    {
        await using var connection = await data.OpenAsync(viewer, ct);
        const string Sql =
            "select exists (select from corrections where infant_id = any($1) and submission_id = $2 and superseded_at is null)";
        await using var command = new NpgsqlCommand(Sql, connection);
        command.Parameters.AddWithValue(entry.Rows.Select(r => r.InfantId?.Value).OfType<Guid>().Distinct().ToArray());
        command.Parameters.AddWithValue(entry.Submission.Id);
        return (bool)(await command.ExecuteScalarAsync(ct))!;
    }

    private async Task<bool> IsOwnAsync(TypedEntry entry, CancellationToken ct)
    {
        if (await read.SentByAsync(new(entry.Submission.Id), ct) is not { } person || person != viewer.PersonId) return false;
        if (!entry.Rows.All(IsOfFamily)) return false; // typed in another role
        foreach (var infant in entry.Rows.Select(r => r.InfantId).OfType<InfantId>().Distinct())
            if (!await write.MayAsync(infant, ct)) return false;
        return true;
    }

    private static bool IsOfFamily(RowReport row) => Codes.TryParse<RowKind>(row.Kind, out var kind) && OfFamily.Contains(kind);
}
