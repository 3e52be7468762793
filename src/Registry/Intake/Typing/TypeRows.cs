using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;
using Registry.Access;
using Registry.Intake.Formats;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Typing;

/// <summary>One row as it was typed: what stands in which column.</summary>
public sealed record TypedRow(RowKind Kind, IReadOnlyDictionary<Field, string> Columns)
{
    /// <summary>What it does with what its site said before.</summary>
    public RowAction Action { get; init; }
}

/// <summary>
/// The door for what a person types: rows like any other, tried first and then handed to the one <see cref="Submit"/>. A form carries a
/// key of its own, so that pressing twice is one submission; what was typed is undone by a retraction of the same rows.
/// </summary>
public sealed class TypeRows(Submit submit, ReadSubmissions read, ProgramClock clock, AuditReads audit, Viewer viewer)
{
    /// <summary>Looks, a tenth of a second apart, whether the same form that comes in at the same moment is stored.</summary>
    private const int Looks = 100;

    /// <summary>This moment, as a form carries it: what is recorded later is news to it.</summary>
    public string Moment => clock.Now.UtcTicks.ToString(CultureInfo.InvariantCulture);

    /// <summary>What would become of the rows at this moment; nothing is stored. Null when that cannot be said now.</summary>
    public async Task<Trial?> TryAsync(SiteId site, IEnumerable<TypedRow> rows, CancellationToken ct) =>
        await submit.TryAsync(Sent(site), new MemoryStream(Bytes(rows)), viewer, audit, ct) is Submitted.Tried tried ? tried.Trial : null;

    /// <returns>The submission; null when nothing was stored.</returns>
    public Task<SubmissionId?> SaveAsync(SiteId site, IEnumerable<TypedRow> rows, Guid form, CancellationToken ct) =>
        SendAsync(Sent(site) with { IdempotencyKey = KeyOf(form) }, Bytes(rows), ct);

    /// <summary>What a form was saved as before, where only its answer did not arrive; null: it was not.</summary>
    public Task<SubmissionId?> SentAsync(SiteId site, Guid form, CancellationToken ct) => read.OfKeyAsync(site, KeyOf(form), ct);

    /// <summary>Whether what was saved ends with a row, whatever it did with what was said before: a correction may take back first.
    /// </summary>
    public async Task<bool> EndsWithAsync(SubmissionId saved, TypedRow row, CancellationToken ct)
    {
        var last = (await ReadAsync((await read.StatusAsync(saved, ct))!, ct))[^1]!.AsObject();
        last.Remove("action");
        return JsonNode.DeepEquals(last, JsonNode.Parse(Bytes([row with { Action = RowAction.Report }]))!["rows"]![0]);
    }

    /// <summary>Whether every row of what was saved was recorded.</summary>
    public async Task<bool> WasAllRecordedAsync(SubmissionId saved, CancellationToken ct) =>
        await read.StatusAsync(saved, ct) is { } status && status.Accepted == status.Rows;

    /// <summary>Takes back what was typed in a submission: the same rows, as retractions.</summary>
    /// <param name="typed">The submission.</param>
    /// <param name="recorded">The numbers of the rows that recorded something: what another row said is not taken back with them.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>The submission that takes it back; null when nothing was stored.</returns>
    public async Task<SubmissionId?> UndoAsync(SubmissionStatus typed, IReadOnlySet<int> recorded, CancellationToken ct)
    {
        var all = await ReadAsync(typed, ct);
        var rows = all.Where((_, i) => recorded.Contains(i + 1)).Select(row => row!.DeepClone()).ToList();
        foreach (var row in rows) row["action"] = Codes.Of(RowAction.Retract);
        return await SendAsync(Sent(typed.SiteId) with { IdempotencyKey = $"typed undo {typed.Id:n}" },
            JsonSerializer.SerializeToUtf8Bytes(new { rows }), ct);
    }

    /// <summary>The numbers of its rows that take something back.</summary>
    public async Task<HashSet<int>> TakesBackAsync(SubmissionStatus typed, CancellationToken ct) =>
        (await ReadAsync(typed, ct)).Index().Where(row => (string?)row.Item!["action"] == Codes.Of(RowAction.Retract))
            .Select(row => row.Index + 1).ToHashSet();

    private async Task<JsonArray> ReadAsync(SubmissionStatus typed, CancellationToken ct)
    {
        await using var stored = read.Open(typed);
        return (await JsonNode.ParseAsync(stored, cancellationToken: ct))!["rows"]!.AsArray();
    }

    private async Task<SubmissionId?> SendAsync(SentFile sent, byte[] bytes, CancellationToken ct)
    {
        for (var look = 0; ; look++)
        {
            var submitted = await submit.RunAsync(sent, new MemoryStream(bytes), length: null, Patience.UntilFinished, ct);
            if (submitted is not Submitted.Nothing { Why: NotStored.KeyInUse } || look == Looks)
                return submitted switch
                {
                    Submitted.Stored stored => stored.Id,
                    Submitted.Kept kept => kept.Id,
                    _ => null,
                };
            await Task.Delay(100, ct);
        }
    }

    private static string KeyOf(Guid form) => $"typed {form:n}";

    private SentFile Sent(SiteId site) => new(site, SubmissionFormat.Typed, new(null, viewer.PersonId, viewer.Role), clock.Now);

    private static byte[] Bytes(IEnumerable<TypedRow> typed)
    {
        var rows = typed.Select(r => r.Columns.Where(c => !string.IsNullOrWhiteSpace(c.Value))
            .Select(c => KeyValuePair.Create(Codes.Of(c.Key), c.Value.Trim()))
            .Concat(r.Action == RowAction.Report ? [] : [new("action", Codes.Of(r.Action))])
            .Prepend(new("kind", Codes.Of(r.Kind))).ToDictionary());
        return JsonSerializer.SerializeToUtf8Bytes(new { rows });
    }
}
