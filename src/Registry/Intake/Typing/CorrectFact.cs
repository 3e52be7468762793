using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.Record;
using Registry.Intake.Rows;
using Registry.Platform;
using Registry.Records;

namespace Registry.Intake.Typing;

/// <summary>A fact that somebody states anew.</summary>
/// <param name="Entry">As it was when the form was opened.</param>
/// <param name="Standing">What stands in its place by now: itself, or what its site said of the same since; null: it was taken back.
/// </param>
/// <param name="Site">In whose name.</param>
public sealed record CorrectedFact(TimeLineEntry Entry, TimeLineEntry? Standing, SiteId Site);

/// <summary>
/// Corrects a fact from its record: what stands is put into the form of its kind, and what is typed is sent as a row that corrects. A row
/// says what it corrects by what names the fact (the ear and time of a test, say); where that itself was wrong, the old is taken back
/// and the new stated in one submission.
/// </summary>
public sealed class CorrectFact(NpgsqlDataSource source, ProgramClock clock, Viewer viewer)
{
    /// <returns>Null for a fact that is not of this infant and kind, or not the viewer's to correct.</returns>
    public static CorrectedFact? Find(OpenedRecord record, RowKind kind, Guid fact, Viewer viewer)
    {
        var entry = record.TimeLine.FirstOrDefault(e => e.Said.Id == fact && e.Fact is { } of && FactKinds.Of(of).Kind == kind);
        if (entry is null || OwnFacts.SiteOf(entry, record, viewer) is not { } site) return null;
        return new(entry, OwnFacts.Standing(entry, record, viewer), site);
    }

    /// <summary>The columns that state a fact.</summary>
    public async Task<IReadOnlyDictionary<Field, string>> ColumnsAsync(ReportedFact fact, CancellationToken ct) =>
        Columns(fact, await SitesAsync(ct));

    /// <param name="corrected">What is corrected.</param>
    /// <param name="record">The record it stands in.</param>
    /// <param name="typed">What is stated instead.</param>
    /// <param name="who">Whom a row about the infant names.</param>
    /// <param name="ct">Cancels.</param>
    /// <returns>The rows that do it; null when rows cannot say which fact is meant.</returns>
    public async Task<IReadOnlyList<TypedRow>?> RowsAsync(CorrectedFact corrected, OpenedRecord record, TypedRow typed,
        IEnumerable<KeyValuePair<Field, string>> who, CancellationToken ct)
    {
        var correction = typed with { Action = RowAction.Correct };
        var sites = await SitesAsync(ct);
        // What cannot be read is said by the trial.
        if (Read(typed, sites, corrected.Site) is not { } stated) return [correction];
        var old = corrected.Standing!.Fact!;
        var own = record.TimeLine.Where(e => e.SupersededAt is null && OwnFacts.SiteOf(e, record, viewer) == corrected.Site)
            .Select(e => e.Fact!).ToList();
        var same = own.Where(f => CompareFacts.AboutTheSame(stated, f)).ToList();
        if (same is [var only] && ReferenceEquals(only, old)) return [correction];
        if (own.Count(f => CompareFacts.Names(old, f)) != 1) return null;
        var columns = new Dictionary<Field, string>(who);
        foreach (var (field, value) in Columns(old, sites)) columns[field] = value;
        // Beside others of its kind a correction would take the place of one of them.
        var takenBack = new TypedRow(typed.Kind, columns) { Action = RowAction.Retract };
        return [takenBack, same.TrueForAll(f => ReferenceEquals(f, old)) ? correction : typed];
    }

    /// <summary>The fact a row states, where it can be read.</summary>
    private ReportedFact? Read(TypedRow typed, KnownSites sites, SiteId site)
    {
        var batch = new RowBatch(1);
        batch.Add(1, 1);
        batch.Set(Field.Kind, Rules.Facts.Codes.Of(typed.Kind));
        foreach (var (field, value) in typed.Columns) batch.Set(field, value);
        return sites.Check(clock, clock.Now, site).Check(batch, 0, out _, out _)?.Fact;
    }

    private static IReadOnlyDictionary<Field, string> Columns(ReportedFact fact, KnownSites sites) =>
        FactAsRow.Of(fact, sites.ByCode.ToDictionary(s => s.Value, s => s.Key));

    private async Task<KnownSites> SitesAsync(CancellationToken ct)
    {
        await using var connection = await source.OpenConnectionAsync(ct);
        return await KnownSites.ReadAsync(connection, ct);
    }
}
