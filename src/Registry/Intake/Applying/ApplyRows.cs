using Npgsql;
using Registry.Facts;
using Registry.Infants.Statuses;
using Registry.Intake.Rows;
using Registry.Matching;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>A checked row on its way to an infant.</summary>
/// <param name="RecordedAt">When we knew it: the moment its submission was received, or a waiting row was resolved.</param>
/// <param name="Decision">What a person decided about it, if one did.</param>
public sealed record RowToApply(
    SubmissionId SubmissionId, SiteId SiteId, int RowNumber, ReportedRow Row, DateTimeOffset RecordedAt, RowDecision? Decision = null)
{
    public Guid? Chosen => Decision?.InfantId;

    public Provenance Provenance => new(SubmissionId, RowNumber, SiteId, RecordedAt, Row.Kind, Row.Action);
}

/// <summary>A person's decision about a held row: the infant it is about (then a contradiction is a correction), or,
/// with null and a birth row, that the infant is a new one.</summary>
public sealed record RowDecision(Guid? InfantId);

/// <summary>What became of one row.</summary>
public readonly record struct AppliedRow(RowOutcome Outcome, Guid? InfantId, HoldReason? Hold = null, Problem? Problem = null);

/// <summary>What applying some rows did: an outcome for each, in their order, and what became known by them.</summary>
public sealed record Applied(IReadOnlyList<AppliedRow> Rows, NewlyKnown Known);

/// <summary>Keys by which waiting rows may now find their infant.</summary>
public sealed class NewlyKnown
{
    public List<(Guid Site, string Number)> RecordNumbers { get; } = [];
    public List<string> CardIds { get; } = [];
    public HashSet<DateOnly> BirthDates { get; } = [];

    /// <summary>Infants a fact was added to or retracted from.</summary>
    public HashSet<Guid> Infants { get; } = [];

    public void Add(NewlyKnown other)
    {
        RecordNumbers.AddRange(other.RecordNumbers);
        CardIds.AddRange(other.CardIds);
        BirthDates.UnionWith(other.BirthDates);
        Infants.UnionWith(other.Infants);
    }

    public bool IsEmpty => RecordNumbers.Count == 0 && CardIds.Count == 0 && BirthDates.Count == 0 && Infants.Count == 0;
}

/// <summary>
/// Matches rows to infants, compares them with what is recorded, writes what is new and recomputes the statuses it
/// touched, all in the caller's transaction: a handful of statements for any number of rows.
/// </summary>
/// <remarks>
/// Two of these at once: births of one day take turns (so that one infant is not made twice), and so do writers of one
/// infant. Locks are taken in one order. Unique indexes on identifiers and current births are the backstop; the caller
/// runs the transaction again when one speaks.
/// </remarks>
public sealed partial class ApplyRows
{
    /// <summary>First key of the advisory locks on birth days; the second is one of <see cref="BirthDayLocks"/> numbers.</summary>
    private const int BirthDayLock = 0x62697274;
    private const int BirthDayLocks = 64;

    private readonly KnownInfants _known;
    private readonly RecordedFacts _recorded;
    private readonly WriteFacts _write = new();
    private readonly NewlyKnown _newlyKnown = new();
    private ApplyRows(KnownInfants known, RecordedFacts recorded) => (_known, _recorded) = (known, recorded);

    public static async Task<Applied> RunAsync(
        NpgsqlConnection connection, IReadOnlyList<RowToApply> rows, Policy policy, DateOnly asOf, CancellationToken ct)
    {
        await LookUpByIndexAsync(connection, ct);
        await LockBirthDaysAsync(connection, rows, ct);
        var (apply, results) = await DecideAsync(connection, rows, ct);
        await apply._write.RunAsync(connection, ct);
        var touched = apply._newlyKnown.Infants;
        if (touched.Count > 0) await RecomputeStatuses.ForInfantsAsync(connection, touched, asOf, policy, ct);
        return new(results, apply._newlyKnown);
    }

    private static async Task<(ApplyRows Apply, AppliedRow[] Results)> DecideAsync(
        NpgsqlConnection connection, IReadOnlyList<RowToApply> rows, CancellationToken ct)
    {
        var known = await KnownInfants.LoadAsync(
            connection, [.. rows.Select(r => Stated(r))],
            [.. rows.Where(r => r.Chosen is not null).Select(r => r.Chosen!.Value).Distinct()], ct);
        var stored = known.Stored.ToArray();
        await LockInfantsAsync(connection, stored, ct);
        // What a corrected or retracted birth would leave without ground is looked for among everything recorded.
        var kinds = rows.Any(r => r.Row is { Kind: RowKind.Birth, Action: not RowAction.Report })
            ? Enum.GetValues<RowKind>() : rows.Select(r => r.Row.Kind).Distinct();
        var recorded = await RecordedFacts.LoadAsync(connection, stored, kinds.ToHashSet(), ct);

        var apply = new ApplyRows(known, recorded);
        return (apply, apply.ApplyAll(rows));
    }

    /// <summary>Births first: a test in the same file then finds its infant whatever the order of the rows. Retracted births last: what
    /// rests on them may be retracted in the same file.</summary>
    private AppliedRow[] ApplyAll(IReadOnlyList<RowToApply> rows)
    {
        var results = new AppliedRow[rows.Count];
        foreach (var turn in (ReadOnlySpan<int>)[0, 1, 2])
        {
            for (var i = 0; i < rows.Count; i++)
                if (Turn(rows[i].Row) == turn) results[i] = Apply(rows[i]);
        }

        return results;
    }

    private static int Turn(ReportedRow row) => row.Kind != RowKind.Birth ? 1 : row.Action == RowAction.Retract ? 2 : 0;

    private AppliedRow Apply(RowToApply row)
    {
        var stated = Stated(row);
        if (row is { Decision: null, Row.OnlyIfUnknown: not OnlyIfUnknown.None and var only })
        {
            var carriers = _known.CarriersOf(stated with
            {
                RecordNumber = only.HasFlag(OnlyIfUnknown.RecordNumber) ? stated.RecordNumber : null,
                CardId = only.HasFlag(OnlyIfUnknown.CardId) ? stated.CardId : null,
            });
            if (carriers.Count == 1) return new(RowOutcome.Unchanged, carriers[0]);
            if (carriers.Count > 1)
                return new(RowOutcome.Rejected, null, null, new Problem(OnlyIfField.Name, "finds more than one infant"));
        }

        var decision = row.Decision switch
        {
            { InfantId: { } chosen } => _known.Knows(chosen) ? MatchDecision.Match(chosen) : MatchDecision.Hold(HoldReason.NoSuchInfant),
            { InfantId: null } when row.Row.Kind == RowKind.Birth => MatchDecision.Create,
            _ => _known.Decide(stated, row.Row is { Kind: RowKind.Birth, Action: not RowAction.Retract }),
        };
        if (decision.Reason == HoldReason.IdentifierContradicted && IsOwnBirthCorrected(row, stated) is { } own)
            decision = MatchDecision.Match(own);
        return decision.Kind switch
        {
            MatchKind.Hold => new(RowOutcome.Held, null, decision.Reason),
            MatchKind.Create => Create(row, stated),
            _ => ApplyTo(decision.InfantId!.Value, row, stated),
        };
    }

    private AppliedRow Create(RowToApply row, in StatedIdentity stated)
    {
        var infantId = _known.Create(stated.Identity);
        _write.AddInfant(infantId, row.RecordedAt);
        _newlyKnown.BirthDates.Add(stated.Identity.BornOn!.Value);
        Attach(infantId, row, stated);
        Record(infantId, row.Row.BirthSiteId ?? row.SiteId.Value, row, Whole(row.Row.Fact));
        return new(RowOutcome.Accepted, infantId);
    }

    private AppliedRow ApplyTo(Guid infantId, RowToApply row, in StatedIdentity stated)
    {
        if (_known.IdentityOf(infantId).BornOn is not { } bornOn)
        {
            // Its birth was retracted: only a birth speaks of it, and everything else waits for one.
            if (row.Row.Kind != RowKind.Birth) return new(RowOutcome.Held, null, HoldReason.NoSuchInfant);
            bornOn = row.Row.Fact.On;
        }

        if (row.Row.Fact is ReportedMerge) return Merge(infantId, row, stated);
        if (row.Row.Action == RowAction.Retract) return Retract(infantId, row);
        var fact = row.Row.Fact is ReportedRisk { NotedOn: null } risk ? risk with { NotedOn = bornOn } : row.Row.Fact;
        if (fact is not ReportedBirth && fact.On < bornOn)
            return new(RowOutcome.Rejected, infantId, null, new Problem(
                FieldOfDay.Of(fact), "is before the birth of the infant it is about"));
        if (row.Row.Action == RowAction.Correct && Correct(infantId, row, stated, Whole(fact)) is { } corrected) return corrected;

        foreach (var recorded in _recorded.Of(infantId))
        {
            var verdict = CompareFacts.Compare(fact, recorded.Fact, recorded.SiteId == row.SiteId.Value, out var result);
            if (verdict != FactVerdict.New && row.Row.BirthSiteId is { } birthSite && birthSite != recorded.SiteId)
                verdict = FactVerdict.Contradicts;
            switch (verdict)
            {
                case FactVerdict.Same:
                    return Unchanged(infantId, row, stated);
                case FactVerdict.Contradicts or FactVerdict.Replaces when SaidBefore(infantId, row, fact):
                    return Unchanged(infantId, row, stated);
                case FactVerdict.Contradicts when row.Chosen is null:
                    return new(RowOutcome.Held, infantId, HoldReason.ContradictsRecord);
                case FactVerdict.Contradicts or FactVerdict.Replaces:
                    Attach(infantId, row, stated);
                    Replace(recorded, row, result);
                    return new(RowOutcome.Accepted, infantId);
            }
        }

        if (SaidBefore(infantId, row, fact)) return Unchanged(infantId, row, stated);
        Attach(infantId, row, stated);
        Record(infantId, row.Row.BirthSiteId ?? row.SiteId.Value, row, Whole(fact));
        if (fact is ReportedBirth birth) TellBirth(infantId, row, birth);
        return new(RowOutcome.Accepted, infantId);
    }

    /// <summary>Both numbers become the infant's; a number of another infant stays where it is.</summary>
    private AppliedRow Merge(Guid infantId, RowToApply row, in StatedIdentity stated)
    {
        var stays = Attach(infantId, row, stated);
        var prior = Attach(infantId, row, stated with { RecordNumber = stated.PriorRecordNumber, CardId = null });
        return new(stays is (null, null) && prior.RecordNumber is null ? RowOutcome.Unchanged : RowOutcome.Accepted, infantId);
    }

    private AppliedRow Unchanged(Guid infantId, RowToApply row, in StatedIdentity stated)
    {
        var (number, card) = Attach(infantId, row, stated);
        return new(number is null && card is null ? RowOutcome.Unchanged : RowOutcome.Accepted, infantId);
    }

    /// <summary>The birth site stays the birth site, whoever completes the record; any other fact is the reporter's.</summary>
    private void Replace(RecordedFact old, RowToApply row, ReportedFact fact)
    {
        Close(old, row);
        Record(old.InfantId, fact is ReportedBirth ? old.SiteId : row.SiteId.Value, row, fact);
        if (fact is ReportedBirth birth) _known.Restate(old.InfantId, IdentityOf(birth));
    }

    private void Record(Guid infantId, Guid siteId, RowToApply row, ReportedFact fact)
    {
        var recorded = new RecordedFact
        {
            Id = Guid.CreateVersion7(),
            InfantId = infantId,
            SiteId = siteId,
            SaidBy = row.SiteId.Value,
            Fact = fact,
            RecordedAt = row.RecordedAt,
            SubmissionId = row.SubmissionId,
            RowNumber = row.RowNumber,
        };
        _recorded.Add(recorded);
        _write.Add(recorded);
        _newlyKnown.Infants.Add(infantId);
    }

    /// <summary>A birth the infant did not have, or another birth date: rows that wait for it may fit now.</summary>
    private void TellBirth(Guid infantId, RowToApply row, ReportedBirth birth)
    {
        _known.Restate(infantId, IdentityOf(birth));
        _newlyKnown.BirthDates.Add(birth.BornOn);
        if (row.Row.RecordNumber is { } number) _newlyKnown.RecordNumbers.Add((row.SiteId.Value, number));
        if (row.Row.CardId is { } card) _newlyKnown.CardIds.Add(card);
    }

    /// <summary>A birth stated on its own, with what holds when nothing is said of it.</summary>
    private static ReportedFact Whole(ReportedFact fact) =>
        fact is ReportedBirth b ? b with { Place = b.Place ?? BirthPlace.Hospital, EmailConsent = b.EmailConsent ?? false } : fact;

    private (string? RecordNumber, string? CardId) Attach(Guid infantId, RowToApply row, in StatedIdentity stated)
    {
        var attached = _known.Attach(infantId, stated);
        if (attached.RecordNumber is { } number)
        {
            _write.AddIdentifier(IdentifierKind.RecordNumber, number, infantId, row.Provenance);
            _newlyKnown.RecordNumbers.Add((row.SiteId.Value, number));
        }

        if (attached.CardId is { } card)
        {
            _write.AddIdentifier(IdentifierKind.CardId, card, infantId, row.Provenance);
            _newlyKnown.CardIds.Add(card);
        }

        return attached;
    }

    private static StatedIdentity Stated(RowToApply row) => new(row.SiteId, row.Row.RecordNumber, row.Row.CardId, row.Row.Identity)
    {
        PriorRecordNumber = (row.Row.Fact as ReportedMerge)?.PriorRecordNumber,
    };

    private static Identity IdentityOf(ReportedBirth b) => new(
        b.BornOn, NormaliseName.Of(b.MotherFamilyName), NormaliseName.Of(b.MotherGivenName), b.MotherBornOn, b.Sex, b.Plurality,
        b.BirthOrder);

    /// <summary>
    /// Every query of this transaction looks up some thousand keys, each by an index. While a table grows the planner's
    /// statistics lag behind, and it reads the whole table instead: then the time of a chunk grows with the registry.
    /// </summary>
    internal static async Task LookUpByIndexAsync(NpgsqlConnection connection, CancellationToken ct)
    {
        await using var command = new NpgsqlCommand("set local enable_seqscan = off", connection);
        await command.ExecuteNonQueryAsync(ct);
    }

    private static async Task LockBirthDaysAsync(NpgsqlConnection connection, IReadOnlyList<RowToApply> rows, CancellationToken ct)
    {
        var locks = rows.Where(r => r.Row is { Kind: RowKind.Birth, Action: not RowAction.Retract })
            .Select(r => r.Row.Identity.BornOn!.Value.DayNumber % BirthDayLocks).Distinct().Order().ToArray();
        if (locks.Length == 0) return;
        await using var command = new NpgsqlCommand("select pg_advisory_xact_lock($1, day) from unnest($2) as day", connection);
        command.Parameters.AddWithValue(BirthDayLock);
        command.Parameters.AddWithValue(locks);
        await command.ExecuteNonQueryAsync(ct);
    }

    private static async Task LockInfantsAsync(NpgsqlConnection connection, Guid[] infants, CancellationToken ct)
    {
        if (infants.Length == 0) return;
        await using var command = new NpgsqlCommand("select from infants where id = any($1) order by id for no key update", connection);
        command.Parameters.AddWithValue(infants);
        await command.ExecuteNonQueryAsync(ct);
    }
}
