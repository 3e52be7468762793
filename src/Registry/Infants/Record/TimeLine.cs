using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Facts;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Infants.Record;

/// <summary>One reported fact as a line of the time line: what happened when, who said so, when we knew and in which row.</summary>
/// <param name="At">Day (and minute, when reported) it happened.</param>
/// <param name="HasTime">Whether the minute was reported.</param>
/// <param name="SupersededAt">When it stopped being what we hold true, as far as known then; null while it holds.</param>
/// <param name="Closed">Who corrected or retracted it, in which row; null while it holds, and when it was taken back on a page.</param>
public sealed record TimeLineEntry(
    DateTime At, bool HasTime, string What, string Detail, SaidOnce Said, string Site, DateTimeOffset? SupersededAt, Closing? Closed)
{
    /// <summary>The fact; null when the line is about a number.</summary>
    public ReportedFact? Fact { get; init; }

    /// <summary>The record number or card id; null when the line is about a fact.</summary>
    public InfantIdentifier? Identifier { get; init; }

    /// <summary>What the instrument measured in a test; null when nothing was reported.</summary>
    public TestDetail? Measured => (Fact as ReportedScreening)?.Detail;
}

/// <summary>By whom, when and in which row something was said; no row when it was entered on a page.</summary>
public sealed record SaidOnce(Guid Id, SiteId SiteId, DateTimeOffset RecordedAt, SubmissionId? SubmissionId, int? RowNumber);

/// <summary>The row that closed a fact.</summary>
public sealed record Closing(RowAction Action, string Site, SubmissionId? SubmissionId, int? RowNumber);

/// <summary>Reads every fact of one infant, superseded ones included, as known at a moment.</summary>
public static class TimeLine
{
    public static async Task<IReadOnlyList<TimeLineEntry>> ReadAsync(RegistryDb db, InfantId id, DateTimeOffset known, CancellationToken ct)
    {
        var sites = await db.Sites.AsNoTracking().ToDictionaryAsync(s => s.Id, s => s.Name, ct);
        var closings = await ClosingsAsync(db, id, known, sites, ct);
        var facts = await FactsAsync(db, id, known, ct);
        var numbers = await db.InfantIdentifiers.AsNoTracking().Where(i => i.InfantId == id && i.RecordedAt <= known).ToListAsync(ct);
        return [.. facts.Select(OfFact).Concat(numbers.Select(OfNumber))
            .OrderByDescending(e => e.At).ThenByDescending(e => e.Said.RecordedAt).ThenBy(e => e.What, StringComparer.Ordinal)];

        TimeLineEntry OfFact(RecordedFact f)
        {
            var (what, detail) = TimeLineWords.Of(f.Fact, sites);
            var entry = Entry(At(f), what, detail, SaidBy(f), f.SupersededAt);
            return entry with { HasTime = HasTime(f.Fact), Fact = f.Fact };
        }

        TimeLineEntry OfNumber(InfantIdentifier i)
        {
            var said = new SaidOnce(i.Id, i.SiteId, i.RecordedAt, i.SubmissionId, i.RowNumber);
            return Entry(i.RecordedAt.LocalDateTime, Words.Of(i.Kind), i.Value, said, i.SupersededAt) with { Identifier = i };
        }

        TimeLineEntry Entry(DateTime at, string what, string detail, SaidOnce said, DateTimeOffset? supersededAt) =>
            new(at, false, what, detail, said, sites.GetValueOrDefault(said.SiteId, TimeLineWords.SomeSite),
                supersededAt <= known ? supersededAt : null, closings.GetValueOrDefault(said.Id));
    }

    private static async Task<IReadOnlyList<RecordedFact>> FactsAsync(
        RegistryDb db, InfantId id, DateTimeOffset known, CancellationToken ct)
    {
        await db.Database.OpenConnectionAsync(ct);
        try
        {
            return await FactHistory.ReadAsync((NpgsqlConnection)db.Database.GetDbConnection(), id, known, ct);
        }
        finally
        {
            await db.Database.CloseConnectionAsync();
        }
    }

    private static async Task<Dictionary<Guid, Closing>> ClosingsAsync(
        RegistryDb db, InfantId id, DateTimeOffset known, Dictionary<SiteId, string> sites, CancellationToken ct) =>
        (await db.Corrections.AsNoTracking()
            .Where(c => c.InfantId == id && c.RecordedAt <= known && (c.SupersededAt == null || c.SupersededAt > known)).ToListAsync(ct))
        .ToDictionary(c => c.FactId, c => new Closing(
            c.Action, sites.GetValueOrDefault(c.SiteId, TimeLineWords.SomeSite), c.SubmissionId, c.RowNumber));

    private static DateTime At(RecordedFact recorded) => recorded.Fact switch
    {
        { IsUndated: true } => recorded.RecordedAt.LocalDateTime.Date,
        ReportedBirth birth => birth.BornOn.ToDateTime(birth.BornAt ?? TimeOnly.MinValue),
        ReportedScreening test => test.PerformedAt,
        var fact => fact.On.ToDateTime(TimeOnly.MinValue),
    };

    private static bool HasTime(ReportedFact fact) => fact switch
    {
        ReportedBirth birth => birth.BornAt is not null,
        ReportedScreening test => test.PerformedAt.TimeOfDay != TimeSpan.Zero,
        _ => false,
    };

    private static SaidOnce SaidBy(RecordedFact fact) => new(fact.Id, new(fact.SiteId), fact.RecordedAt,
        fact.SubmissionId == default ? null : fact.SubmissionId, fact.SubmissionId == default ? null : fact.RowNumber);
}
