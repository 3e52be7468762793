using Npgsql;
using Registry.Intake.Rows;
using Registry.Records;

namespace Registry.Intake.Applying;

/// <summary>What the rows of one submission have in common.</summary>
/// <param name="AllOrNothing">The rows apply all or none.</param>
internal sealed record SentRows(SubmissionId SubmissionId, SiteId SiteId, DateTimeOffset ReceivedAt, bool AllOrNothing);

/// <summary>A row after its checks.</summary>
/// <param name="Place">Its place in the batch it was read into.</param>
/// <param name="Kind">What it reports, where that could be read.</param>
/// <param name="Valid">Its place among the rows that passed; -1 when it did not.</param>
/// <param name="Problems">What is wrong with it; of one that passed, what deserves a second look.</param>
internal readonly record struct CheckedRow(
    int Place, int Number, int Line, RowKind? Kind, int Valid, IReadOnlyList<Problem> Problems)
{
    public bool Passed => Valid >= 0;
}

/// <summary>Some rows of one submission after their checks: what they say, and what is wrong with those that did not pass.</summary>
internal sealed class CheckedChunk
{
    private readonly RowBatch _batch;
    private readonly List<CheckedRow> _rows;
    private readonly List<RowToApply> _valid = [];

    private CheckedChunk(RowBatch batch, int from, CheckRow check, SentRows sent)
    {
        (_batch, Sent, _rows) = (batch, sent, new(batch.Count - from));
        for (var i = from; i < batch.Count; i++)
        {
            var row = check.Check(batch, i, out var kind, out var problems);
            _rows.Add(new(i, batch.Number(i), batch.Line(i), kind, row is null ? -1 : _valid.Count,
                row is null ? problems : DoubtRow.Of(row)));
            if (row is not null) _valid.Add(new(sent.SubmissionId, sent.SiteId, batch.Number(i), row, sent.ReceivedAt));
        }
    }

    /// <summary>Checks the rows of a batch, after what the reader of an earlier file found was put back to those that return. The chunk
    /// reads from the batch as long as it is used.</summary>
    /// <param name="connection">Reads the rows that come back.</param>
    /// <param name="batch">The rows.</param>
    /// <param name="from">The first of them; those before it were done.</param>
    /// <param name="check">The sender's check, of the day the rows were received.</param>
    /// <param name="sent">Whose they are.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task<CheckedChunk> CheckAsync(
        NpgsqlConnection connection, RowBatch batch, int from, CheckRow check, SentRows sent, CancellationToken ct)
    {
        await ReturnedRows.PutBackFoundAsync(connection, batch, from, sent.SiteId, ct);
        return new(batch, from, check, sent);
    }

    public SentRows Sent { get; }
    public IReadOnlyList<CheckedRow> Rows => _rows;

    /// <summary>The rows that passed.</summary>
    public IReadOnlyList<RowToApply> Valid => _valid;

    public bool AllPassed => _valid.Count == _rows.Count;

    /// <summary>The row's stated fields, to be kept with it.</summary>
    public string ContentOf(in CheckedRow row) => _batch.ToJson(row.Place);

    public IReadOnlyList<Problem> FoundByReader(in CheckedRow row) => _batch.Problems(row.Place);

    /// <summary>The rejected row this one comes back for.</summary>
    public RowMark? OriginOf(in CheckedRow row) => _batch.Origin(row.Place);

    /// <summary>The row creates an infant only if it is not known yet.</summary>
    public bool HasCondition(in CheckedRow row) => _batch.OnlyIf(row.Place) != OnlyIfUnknown.None;

    /// <summary>Every row with what became of it, given what became of the valid ones.</summary>
    public IEnumerable<RowResult> Results(IReadOnlyList<AppliedRow> applied) =>
        _rows.Select(row => new RowResult(row, row.Passed ? applied[row.Valid] : new AppliedRow(RowOutcome.Rejected, null)));
}

/// <summary>A row and what became of it.</summary>
internal readonly record struct RowResult(CheckedRow Row, AppliedRow Applied)
{
    /// <summary>What is to be said of it.</summary>
    public IReadOnlyList<Problem> Problems => Applied.Problem is { } problem ? [problem]
        : Row.Passed && Applied.Outcome != RowOutcome.Accepted ? [] : Row.Problems;

    public RowReport Report() =>
        RowReport.Of(Row.Number, Row.Line, Row.Kind, Applied.Outcome, Applied.Hold, Problems) with
        {
            InfantId = Applied.InfantId is { } infant ? new InfantId(infant) : null,
        };
}
