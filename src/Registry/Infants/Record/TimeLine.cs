using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
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

/// <summary>Tells every fact of one infant, superseded ones included, as known at a moment.</summary>
public static class TimeLine
{
    /// <returns>Its lines, and every site they name.</returns>
    /// <param name="db">It sees what the viewer may see.</param>
    /// <param name="id">The infant.</param>
    /// <param name="known">When.</param>
    /// <param name="alsoNamed">Sites the page names beside them.</param>
    /// <param name="ct">Cancels.</param>
    public static async Task<(IReadOnlyList<TimeLineEntry> Entries, IReadOnlyDictionary<SiteId, Site> Sites)> ReadAsync(
        RegistryDb db, InfantId id, DateTimeOffset known, IEnumerable<SiteId> alsoNamed, CancellationToken ct)
    {
        await db.Database.OpenConnectionAsync(ct);
        try
        {
            var said = await FactHistory.AllAsync((NpgsqlConnection)db.Database.GetDbConnection(), id, known, ct);
            var sites = await db.WithHeirsAsync(SitesOf(said).Concat(alsoNamed), ct);
            return (Of(said, known, sites), sites);
        }
        finally
        {
            await db.Database.CloseConnectionAsync();
        }
    }

    private static IEnumerable<SiteId> SitesOf(SaidOfInfant said) => said.Facts.SelectMany(f => f.Fact switch
    {
        ReportedTransfer transfer => new[] { f.SiteId, transfer.ToSiteId },
        ReportedAppointment { AtSiteId: { } at } => [f.SiteId, at],
        _ => [f.SiteId],
    }).Select(id => new SiteId(id)).Concat(said.Numbers.Select(n => n.SiteId)).Concat(said.Closings.Select(c => c.SiteId));

    private static IReadOnlyList<TimeLineEntry> Of(SaidOfInfant told, DateTimeOffset known, Dictionary<SiteId, Site> sites)
    {
        var names = sites.ToDictionary(s => s.Key, s => s.Value.Name);
        var closings = told.Closings.ToDictionary(c => c.FactId, c => new Closing(
            c.Action, names.GetValueOrDefault(c.SiteId, TimeLineWords.SomeSite), c.SubmissionId, c.RowNumber));
        return [.. told.Facts.Select(OfFact).Concat(told.Numbers.Select(OfNumber))
            .OrderByDescending(e => e.At).ThenByDescending(e => e.Said.RecordedAt).ThenBy(e => e.What, StringComparer.Ordinal)];

        TimeLineEntry OfFact(RecordedFact f)
        {
            var (what, detail) = TimeLineWords.Of(f.Fact, names);
            var entry = Entry(At(f), what, detail, SaidBy(f), f.SupersededAt);
            return entry with { HasTime = HasTime(f.Fact), Fact = f.Fact };
        }

        TimeLineEntry OfNumber(InfantIdentifier i)
        {
            var said = new SaidOnce(i.Id, i.SiteId, i.RecordedAt, i.SubmissionId, i.RowNumber);
            return Entry(i.RecordedAt.LocalDateTime, Words.Of(i.Kind), i.Value, said, i.SupersededAt) with { Identifier = i };
        }

        TimeLineEntry Entry(DateTime at, string what, string detail, SaidOnce said, DateTimeOffset? supersededAt) =>
            new(at, false, what, detail, said, names.GetValueOrDefault(said.SiteId, TimeLineWords.SomeSite),
                supersededAt <= known ? supersededAt : null, closings.GetValueOrDefault(said.Id));
    }

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
