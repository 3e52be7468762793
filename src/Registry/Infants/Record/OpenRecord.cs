using System.Text.Json;
using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Access;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.PolicyVersions;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Registry.Rules.Milestones;
using Registry.Rules.Screening;

namespace Registry.Infants.Record;

/// <summary>One infant's record on a day.</summary>
/// <param name="Status">Null when the birth was not known by that day, or lies after it.</param>
/// <param name="Dues">Every step that is due, the soonest first.</param>
/// <param name="Birth">The birth that holds.</param>
/// <param name="RecordNumber">The viewer's own site's, else the oldest.</param>
/// <param name="TimeLine">Every fact reported, those no longer held true included.</param>
public sealed record OpenedRecord(
    StatusesAsOf Statuses, InfantStatusRow? Status, IReadOnlyList<DueLine> Dues, ReportedBirth? Birth, string? RecordNumber,
    IReadOnlyList<TimeLineEntry> TimeLine)
{
    public required InfantId Infant { get; init; }
    public required string BirthSite { get; init; }

    /// <summary>What happened, as a person would tell it, latest first; without numbers.</summary>
    public required IReadOnlyList<StoryLine> Story { get; init; }

    /// <summary>The family as it was then.</summary>
    public FamilyNow Family { get; } = FamilyNow.Of(
        TimeLine.Where(e => e is { Fact: not null, SupersededAt: null }).OrderBy(e => e.Said.RowNumber)
            .Select(e => (e.Fact!, e.Said.RecordedAt)));

    /// <summary>Whose submissions the facts came in.</summary>
    public required IReadOnlyDictionary<SubmissionId, SentBy> Sent { get; init; }

    /// <summary>Record numbers and cards, those no longer held true included.</summary>
    public IEnumerable<TimeLineEntry> Identifiers => TimeLine.Where(e => e.Identifier is not null);

    /// <summary>Who owns the next step, and who is called about it; null without a status.</summary>
    public required SiteContact? Responsible { get; init; }

    /// <summary>Sites whose first reports about the infant wait to be confirmed, with how many: nothing of them counts.</summary>
    public required IReadOnlyList<(string Site, int Rows)> Waiting { get; init; }

    /// <summary>It is shown for a while by a broken glass, and by nothing else: to be read.</summary>
    public required bool ByGlass { get; init; }

    /// <summary>Other infants for whom another site states the same card; only a coordinator is told.</summary>
    public required IReadOnlyList<InfantId> SameCard { get; init; }
    /// <summary>The clocks of Part C; null without a permanent hearing loss.</summary>
    public required PartCClocks? PartC { get; init; }

    /// <summary>How tests stand to their site's own criterion, by the id of the fact; only those that were compared.</summary>
    public required IReadOnlyDictionary<Guid, CriterionResult> Compared { get; init; }

    /// <summary>The step a contact is most likely about: where the infant was lost, else the first milestone that waits.</summary>
    public PathStep LikelyStep => Status switch
    {
        null => PathStep.Screening,
        { LostAt: { } step } => step,
        { DiagnosedState: MilestoneState.Missed or MilestoneState.Pending } => PathStep.Diagnosis,
        { EnrolledState: MilestoneState.Missed or MilestoneState.Pending } => PathStep.Intervention,
        _ => PathStep.Screening,
    };
}

/// <summary>Whose words a submission is.</summary>
/// <param name="Typed">Who typed it on a page, where it can be undone; null: it came as a file or a message.</param>
public sealed record SentBy(SiteId Site, TypedBy? Typed);

/// <summary>Who typed something.</summary>
public sealed record TypedBy(Guid Person, string Name);

/// <summary>One line of the due list.</summary>
public sealed record DueLine(DueStep Step, DateOnly DueOn, string Rule, string Why);

/// <summary>Opens one infant's record, as known on a day, for a viewer; the read is recorded.</summary>
public sealed class OpenRecord(
    ViewerDatabase data, RegistryDb rows, StatusSource source, PolicyStore policies, IEnumerable<StoryPart> parts, AuditReads audit,
    Viewer viewer)
{
    /// <returns>Null for an infant the viewer may not see, exactly as for one that does not exist.</returns>
    public async Task<OpenedRecord?> AsOfAsync(InfantId id, DateOnly asOf, CancellationToken ct)
    {
        await using var db = await data.OpenDbAsync(viewer, ct);
        if (!await db.VisibleInfants(viewer).AnyAsync(i => i.Id == id, ct)) return null;
        var statuses = await source.AsOfAsync(asOf, ct);
        var recorded = audit.OneAsync(id, ct); // while it is read; nothing is given away before both are done
        var status = await StatusAsync(db, statuses, id, ct);
        var waiting = await WaitingAsync(id, ct);
        SiteId[] owners = status is null ? [] : [status.BirthSiteId, status.ResponsibleSiteId];
        var (timeLine, sites) = await TimeLine.ReadAsync(
            db, id, statuses.KnownAt.ToUniversalTime(), owners.Concat(waiting.Select(w => w.Site)), ct);
        var holding = timeLine.Where(e => e.SupersededAt is null).ToList();
        var numbers = holding.Select(e => e.Identifier).OfType<InfantIdentifier>().Where(i => i.Kind == IdentifierKind.RecordNumber);
        var policy = await policies.InForceAsync(asOf, ct);
        var record = new OpenedRecord(
            statuses, status, status is null ? [] : Dues(status.Dues), holding.Select(e => e.Fact).OfType<ReportedBirth>().FirstOrDefault(),
            numbers.OrderByDescending(i => i.SiteId == viewer.SiteId).ThenBy(i => i.RecordedAt).FirstOrDefault()?.Value, timeLine)
        {
            Infant = id,
            BirthSite = Name(status?.BirthSiteId),
            Story = TellStory.Of(timeLine, await OthersAsync(id, statuses.KnownAt, ct), TimeSpan.FromHours(policy.SessionHours)),
            Responsible = status is { ResponsibleSiteId: var owner } && sites.TryGetValue(owner, out var owning)
                ? SiteContact.Of(owning, sites) : null,
            Waiting = [.. waiting.Select(w => (Name(w.Site), w.Rows)).OrderBy(w => w.Item1, StringComparer.Ordinal)],
            ByGlass = viewer.Glasses.Count > 0
                && !await db.VisibleInfants(viewer with { Glasses = [] }).AnyAsync(i => i.Id == id, ct),
            SameCard = viewer.IsCoordinator ? await SameCardAsync(id, ct) : [],
            Sent = await SentAsync(timeLine, ct),
            PartC = status is null ? null : DescribePartC.On(
                new InfantFacts
                {
                    Birth = new(status.BornOn, null),
                    Interventions = [.. holding.Select(e => e.Fact).OfType<ReportedIntervention>()
                        .Select(e => new InterventionEvent(e.Kind, e.HappenedOn))],
                },
                status.IdentifiedOn, asOf),
            Compared = Compare(timeLine, policy.PassCriteria, sites),
        };
        await recorded;
        return record;

        string Name(SiteId? site) => site is { } known && sites.TryGetValue(known, out var found) ? found.Name : "";
    }

    private async Task<IReadOnlyList<StoryLine>> OthersAsync(InfantId id, DateTimeOffset known, CancellationToken ct)
    {
        var told = new List<StoryLine>();
        foreach (var part in parts) told.AddRange(await part.ReadAsync(id, known, ct));
        return told;
    }

    private async Task<IReadOnlyDictionary<SubmissionId, SentBy>> SentAsync(IReadOnlyList<TimeLineEntry> timeLine, CancellationToken ct)
    {
        var sent = timeLine.Where(e => e.Fact is not null).Select(e => e.Said.SubmissionId).OfType<SubmissionId>().Distinct().ToList();
        var by = from s in rows.Submissions
                 join p in rows.Users on s.PersonId equals p.Id into people
                 from person in people.DefaultIfEmpty()
                 where sent.Contains(s.Id)
                 select new { s.Id, s.SiteId, s.Format, Person = (Guid?)person.Id, person.DisplayName };
        return await by.ToDictionaryAsync(s => s.Id, s => new SentBy(s.SiteId,
            s is { Format: SubmissionFormat.Typed, Person: { } typist } ? new(typist, s.DisplayName) : null), ct);
    }

    /// <remarks>What waits, and cards of infants the viewer does not see, are no facts of this one: not what row security shows.</remarks>
    private async Task<IReadOnlyList<(SiteId Site, int Rows)>> WaitingAsync(InfantId id, CancellationToken ct)
    {
        var waiting = await (
            from r in rows.SubmissionRows
            join h in rows.HeldRows on new { r.SubmissionId, r.RowNumber } equals new { h.SubmissionId, h.RowNumber }
            where r.InfantId == id && r.Outcome == RowOutcome.Held && h.Resolution == null && h.Reason == HoldReason.AwaitsConfirmation
            group h by h.SiteId into claim
            select new { claim.Key, Rows = claim.Count() }).ToListAsync(ct);
        return [.. waiting.Select(w => (w.Key, w.Rows))];
    }

    private Task<List<InfantId>> SameCardAsync(InfantId id, CancellationToken ct)
    {
        var cards = rows.InfantIdentifiers.Where(i => i.Kind == IdentifierKind.CardId && i.SupersededAt == null);
        return (from own in cards
                join other in cards on own.Value equals other.Value
                where own.InfantId == id && other.InfantId != id
                select other.InfantId).Distinct().ToListAsync(ct);
    }

    private static async Task<InfantStatusRow?> StatusAsync(
        RegistryDb db, StatusesAsOf statuses, InfantId id, CancellationToken ct)
    {
        var sql = $"select s.* from {statuses.Relation} s where s.infant_id = @infant";
        return await db.InfantStatuses.FromSqlRaw(sql, new NpgsqlParameter("infant", id.Value)).AsNoTracking().SingleOrDefaultAsync(ct);
    }

    private static List<DueLine> Dues(string json) => [.. JsonSerializer.Deserialize<List<JsonElement>>(json)!.Select(d => new DueLine(
        Codes.Parse<DueStep>(d.GetProperty("step").GetString()), DateOnly.Parse(d.GetProperty("dueOn").GetString()!, null),
        d.GetProperty("rule").GetString()!, d.GetProperty("why").GetString()!))];

    private static Dictionary<Guid, CriterionResult> Compare(
        IReadOnlyList<TimeLineEntry> timeLine, PassCriterion[] criteria, IReadOnlyDictionary<SiteId, Site> sites)
    {
        var compared = new Dictionary<Guid, CriterionResult>();
        foreach (var entry in timeLine)
        {
            if (entry is not { Fact: ReportedScreening test, Measured: { } measured }) continue;
            var site = sites.TryGetValue(entry.Said.SiteId, out var known) ? known.Code : "";
            compared[entry.Said.Id] = CompareWithCriterion.Compare(
                test.Outcome, measured, PassCriterion.For(criteria, site, test.Instrument, test.Method));
        }

        return compared;
    }
}
