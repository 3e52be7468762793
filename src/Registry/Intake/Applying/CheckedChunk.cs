using Npgsql;
using NpgsqlTypes;
using Registry.Intake.Rows;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>Some rows of a submission after their checks, and the writing of their outcomes.</summary>
internal sealed class CheckedChunk
{
    private readonly record struct Row(int Number, int Line, RowKind? Kind, int Valid, string? Content, IReadOnlyList<Problem> Problems,
        int InBatch);
    private readonly record struct Outcome(Row Row, AppliedRow Applied, string? Problems, string? Content, bool IsRepeated = false);

    private readonly RowBatch _batch;
    private readonly SubmissionId _submission;
    private readonly SiteId _site;
    private readonly DateTimeOffset _receivedAt;
    private readonly List<Row> _rows = [];
    private readonly List<RowToApply> _valid = [];

    public CheckedChunk(RowBatch batch, int from, CheckRow check, SubmissionId submission, SiteId site, DateTimeOffset receivedAt)
    {
        (_batch, _submission, _site, _receivedAt) = (batch, submission, site, receivedAt);
        for (var i = from; i < batch.Count; i++)
        {
            var row = check.Check(batch, i, out var kind, out var problems);
            _rows.Add(new(batch.Number(i), batch.Line(i), kind, row is null ? -1 : _valid.Count, row is null ? batch.ToJson(i) : null,
                problems, i));
            if (row is not null) _valid.Add(new(submission, site, batch.Number(i), row, receivedAt));
        }
    }

    /// <summary>The rows that passed.</summary>
    public IReadOnlyList<RowToApply> Valid => _valid;

    /// <summary>The rows apply all or none: then what is rejected waits for nobody, since no part of it can be applied later by
    /// itself.</summary>
    public bool AllOrNothing { get; init; }

    /// <summary>Whether every row passed.</summary>
    public bool AllValid => _valid.Count == _rows.Count;

    /// <summary>After <see cref="WriteOutcomesAsync"/>: some rows wait for an infant that is not known yet.</summary>
    public bool AnyWaits { get; private set; }

    /// <summary>After <see cref="WriteOutcomesAsync"/>: the rows as they would be read back, when nothing is to be said of any; else
    /// null.</summary>
    public IReadOnlyList<RowReport>? Plain { get; private set; }

    /// <summary>What would be answered for every row, given the outcomes of the valid ones.</summary>
    public IReadOnlyList<RowReport> Reports(IReadOnlyList<AppliedRow> applied) =>
    [
        .. _rows.Select(row =>
        {
            var result = row.Valid < 0 ? new AppliedRow(RowOutcome.Rejected, null) : applied[row.Valid];
            return new RowReport(row.Number, row.Line, row.Kind is { } kind ? Codes.Of(kind) : null, Codes.Of(result.Outcome),
                result.Hold is { } hold ? Codes.Of(hold) : null, result.Problem is { } problem ? [problem] : row.Problems);
        }),
    ];

    /// <summary>Writes an outcome for every row of some chunks, given those of the valid rows.</summary>
    /// <returns>For each chunk, how many rows have each <see cref="RowOutcome"/>.</returns>
    public static async Task<IReadOnlyList<int[]>> WriteOutcomesAsync(
        NpgsqlConnection connection, IReadOnlyList<(CheckedChunk Chunk, IReadOnlyList<AppliedRow> Applied)> chunks, CancellationToken ct)
    {
        var outcomes = await WithoutRepeatedAsync(
            connection, [.. chunks.SelectMany(c => c.Chunk.Outcomes(c.Applied), (c, o) => (c.Chunk, o))], ct);
        var counts = new List<int[]>(chunks.Count);
        var from = 0;
        foreach (var (chunk, _) in chunks)
        {
            var ofChunk = outcomes[from..(from += chunk._rows.Count)].ConvertAll(o => o.Outcome);
            var count = new int[Enum.GetValues<RowOutcome>().Length];
            foreach (var outcome in ofChunk) count[(int)outcome.Applied.Outcome]++;
            counts.Add(count);
            chunk.AnyWaits = ofChunk.Exists(o => o.Applied is { Outcome: RowOutcome.Held, Hold: HoldReason.NoSuchInfant });
            chunk.Plain = ofChunk.Exists(o => o.Applied.Outcome is RowOutcome.Held or RowOutcome.Rejected) ? null
                : [.. ofChunk.Select(
                    o => new RowReport(o.Row.Number, o.Row.Line, o.Row.Kind is { } kind ? Codes.Of(kind) : null,
                    Codes.Of(o.Applied.Outcome), null, []))];
        }

        await CopyRows.RunAsync(
            connection, "copy submission_rows (submission_id, row_number, line, kind, outcome, infant_id, problems, content, "
                + "discarded_at) from stdin (format binary)",
            outcomes, static (w, one) =>
            {
                var (chunk, o) = one;
                w.Write(chunk._submission.Value, NpgsqlDbType.Uuid);
                w.Write(o.Row.Number, NpgsqlDbType.Integer);
                w.Write(o.Row.Line, NpgsqlDbType.Integer);
                Optional(w, o.Row.Kind is { } kind ? Codes.Of(kind) : null, NpgsqlDbType.Text);
                w.Write(Codes.Of(o.Applied.Outcome), NpgsqlDbType.Text);
                if (o.Applied.InfantId is { } infant) w.Write(infant, NpgsqlDbType.Uuid);
                else w.WriteNull();
                Optional(w, o.Problems, NpgsqlDbType.Jsonb);
                Optional(w, o.Content, NpgsqlDbType.Jsonb);
                if (chunk.WaitsForNobody(o)) w.Write(chunk._receivedAt, NpgsqlDbType.TimestampTz);
                else w.WriteNull();
            }, ct);
        await CopyRows.RunAsync(
            connection,
            "copy held_rows (submission_id, row_number, site_id, kind, reason, held_at, record_number, card_id, birth_date, "
                + "mother_family_key, mother_born_on) from stdin (format binary)",
            outcomes.FindAll(o => o.Outcome.Applied.Outcome == RowOutcome.Held), static (w, one) =>
            {
                var (chunk, o) = one;
                var row = chunk._valid[o.Row.Valid].Row;
                w.Write(chunk._submission.Value, NpgsqlDbType.Uuid);
                w.Write(o.Row.Number, NpgsqlDbType.Integer);
                w.Write(chunk._site.Value, NpgsqlDbType.Uuid);
                w.Write(Codes.Of(row.Kind), NpgsqlDbType.Text);
                w.Write(Codes.Of(o.Applied.Hold!.Value), NpgsqlDbType.Text);
                w.Write(chunk._receivedAt, NpgsqlDbType.TimestampTz);
                Optional(w, row.RecordNumber, NpgsqlDbType.Text);
                Optional(w, row.CardId, NpgsqlDbType.Text);
                if (row.Identity.BornOn is { } born) w.Write(born, NpgsqlDbType.Date);
                else w.WriteNull();
                Optional(w, row.Identity.MotherFamily, NpgsqlDbType.Text);
                if (row.Identity.MotherBornOn is { } mother) w.Write(mother, NpgsqlDbType.Date);
                else w.WriteNull();
            }, ct);
        await SentAgain.CloseAsync(
            connection,
            [
                .. from one in outcomes
                   let origin = one.Chunk._batch.Origin(one.Outcome.Row.InBatch)
                   where origin is not null
                   select (new SentAgain.Row(one.Chunk._site, origin.Value, (one.Chunk._submission.Value, one.Outcome.Row.Number)),
                       one.Chunk._receivedAt),
            ], ct);
        return counts;
    }

    /// <summary>A row that would wait for a person, and was sent before to the letter (<see cref="FindRepeatedRows"/>), changes nothing;
    /// one that is rejected is told again, and does not wait again. Rows that settle by themselves are none of these, nor one sent back
    /// from the file of rejected rows.</summary>
    private static async Task<List<(CheckedChunk Chunk, Outcome Outcome)>> WithoutRepeatedAsync(
        NpgsqlConnection connection, List<(CheckedChunk Chunk, Outcome Outcome)> outcomes, CancellationToken ct)
    {
        var places = Enumerable.Range(0, outcomes.Count).Where(i => WaitsForSomebody(outcomes[i].Chunk, outcomes[i].Outcome)).ToList();
        var repeated = await FindRepeatedRows.RunAsync(
            connection, [.. places.Select(
                i => (outcomes[i].Chunk._site, outcomes[i].Outcome.Applied.Outcome, outcomes[i].Outcome.Content!))], ct);
        foreach (var i in repeated.Select(n => places[n]))
        {
            var (chunk, o) = outcomes[i];
            outcomes[i] = (chunk, o.Applied.Outcome == RowOutcome.Rejected ? o with { IsRepeated = true }
                : o with { Applied = new(RowOutcome.Unchanged, o.Applied.InfantId), Problems = null, Content = null });
        }

        return outcomes;

        static bool WaitsForSomebody(CheckedChunk chunk, Outcome o) => chunk._batch.Origin(o.Row.InBatch) is null && o.Applied switch
        {
            { Outcome: RowOutcome.Rejected } => !chunk.WaitsForNobody(o),
            { Outcome: RowOutcome.Held, Hold: not (HoldReason.NoSuchInfant or HoldReason.NothingRecorded or HoldReason.OthersRestOnIt) } =>
                true,
            _ => false,
        };
    }

    /// <summary>A rejected row nobody can put right by its columns, which would lose what stood in its way: it is part of a whole that did
    /// not apply, has a condition, or is wrong in an element of a Bundle that no column states.</summary>
    private bool WaitsForNobody(Outcome o) => o.Applied.Outcome == RowOutcome.Rejected
        && (o.IsRepeated || AllOrNothing || _batch.OnlyIf(o.Row.InBatch) != OnlyIfUnknown.None
            || (o.Row.Kind is not null && o.Row.Problems.Any(p => p.Field?.StartsWith("Bundle", StringComparison.Ordinal) == true)));

    private List<Outcome> Outcomes(IReadOnlyList<AppliedRow> applied)
    {
        var outcomes = new List<Outcome>(_rows.Count);
        foreach (var row in _rows)
        {
            var result = row.Valid < 0 ? new AppliedRow(RowOutcome.Rejected, null) : applied[row.Valid];
            IReadOnlyList<Problem> problems = result.Problem is { } p ? [p] : row.Problems;
            var keeps = result.Outcome is RowOutcome.Held or RowOutcome.Rejected;
            outcomes.Add(new(row, result, problems.Count == 0 ? null : ProblemsJson.Write(problems, _batch.Problems(row.InBatch)),
                keeps ? row.Content ?? _batch.ToJson(row.InBatch) : null));
        }

        return outcomes;
    }

    private static void Optional(NpgsqlBinaryImporter w, string? value, NpgsqlDbType type)
    {
        if (value is null) w.WriteNull();
        else w.Write(value, type);
    }
}
