using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Matching;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>What becomes of rows, one after another, given what is known and recorded: in memory only.</summary>
/// <param name="known">The infants.</param>
/// <param name="recorded">What is recorded of them.</param>
/// <param name="record">What the rows add and close.</param>
/// <param name="leaning">Infants of whom a row that leans on details was applied; grows.</param>
internal sealed class ApplyRow(KnownInfants known, RecordedFacts recorded, RecordRows record, HashSet<Guid> leaning)
{
    private readonly DecideInfant _decide = new(known, recorded);
    private readonly CorrectFacts _correct = new(recorded, record);

    /// <summary>Births first: a test in the same file then finds its infant whatever the order of the rows. Retracted births last: what
    /// rests on them may be retracted in the same file.</summary>
    public AppliedRow[] InTurn(IReadOnlyList<RowToApply> rows)
    {
        var results = new AppliedRow[rows.Count];
        foreach (var turn in (ReadOnlySpan<int>)[0, 1, 2])
        {
            for (var i = 0; i < rows.Count; i++)
                if (TurnOf(rows[i].Row) == turn) results[i] = Apply(rows[i]);
        }

        return results;
    }

    private static int TurnOf(ReportedRow row) => row.Kind != RowKind.Birth ? 1 : row.Action == RowAction.Retract ? 2 : 0;

    private AppliedRow Apply(RowToApply row)
    {
        var stated = row.Stated;
        if (row is { Decision: null, Row.OnlyIfUnknown: not OnlyIfUnknown.None } && IfKnown(row.Row.OnlyIfUnknown, stated) is { } already)
            return already;
        var decision = _decide.Of(row, stated);
        record.Leans = false;
        return decision.Kind switch
        {
            MatchKind.Hold or MatchKind.Claim => AppliedRow.Held(decision.InfantId, decision.Reason!.Value),
            MatchKind.Create => record.NewInfant(row, stated),
            _ => ApplyTo(decision, row, stated),
        };
    }

    /// <summary>A row leans when only details led to its infant, or when it may rest on one that does: on its number, on what it said. Not
    /// what a person decided, nor a birth an identifier leads.</summary>
    private AppliedRow ApplyTo(MatchDecision decision, RowToApply row, in StatedIdentity stated)
    {
        var infantId = decision.InfantId!.Value;
        record.Leans = row.Decision is null && (decision.ByDetails || (row.Row.Kind != RowKind.Birth && leaning.Contains(infantId)));
        var applied = ApplyTo(infantId, row, stated);
        if (!record.Leans || applied.Outcome is RowOutcome.Held or RowOutcome.Rejected) return applied;
        leaning.Add(infantId);
        return applied with { Leans = true };
    }

    /// <summary>A conditional create whose infant is known changes nothing; null when it is not known.</summary>
    private AppliedRow? IfKnown(OnlyIfUnknown only, in StatedIdentity stated)
    {
        var carriers = known.CarriersOf(stated with
        {
            RecordNumber = only.HasFlag(OnlyIfUnknown.RecordNumber) ? stated.RecordNumber : null,
            CardId = only.HasFlag(OnlyIfUnknown.CardId) ? stated.CardId : null,
        });
        return carriers.Count switch
        {
            0 => null,
            1 => AppliedRow.Unchanged(carriers[0]),
            _ => AppliedRow.Rejected(null, new(OnlyIfField.Name, "finds more than one infant")),
        };
    }

    private AppliedRow ApplyTo(Guid infantId, RowToApply row, in StatedIdentity stated)
    {
        if (known.IdentityOf(infantId).BornOn is not { } bornOn)
        {
            // Its birth was retracted: only a birth speaks of it, and everything else waits for one.
            if (row.Row.Kind != RowKind.Birth) return AppliedRow.Held(null, HoldReason.NoSuchInfant);
            bornOn = row.Row.Fact.On;
        }

        if (row.Row.Fact is ReportedMerge) return Merge(infantId, row, stated);
        if (row.Row.Action == RowAction.Retract) return _correct.Retract(infantId, row);
        var fact = row.Row.Fact is ReportedRisk { NotedOn: null } risk ? risk with { NotedOn = bornOn } : row.Row.Fact;
        if (fact is not ReportedBirth && fact.On < bornOn)
            return AppliedRow.Rejected(infantId, new(FieldOfDay.Of(fact), "is before the birth of the infant it is about"));
        return (row.Row.Action == RowAction.Correct ? _correct.Correct(infantId, row, stated, RecordRows.WithDefaults(fact)) : null)
            ?? CompareWithRecorded(infantId, row, stated, fact)
            ?? AddNew(infantId, row, stated, fact);
    }

    /// <summary>What becomes of a fact that is recorded already, in the same or other words; null when nothing is recorded of it.</summary>
    private AppliedRow? CompareWithRecorded(Guid infantId, RowToApply row, in StatedIdentity stated, ReportedFact fact)
    {
        foreach (var earlier in recorded.Of(infantId))
        {
            if (IsOutdated(infantId, fact, earlier)) continue;
            var verdict = CompareFacts.Compare(fact, earlier.Fact, earlier.SiteId == row.SiteId.Value, out var result);
            if (verdict != FactVerdict.New && row.Row.BirthSiteId is { } birthSite && birthSite != earlier.SiteId)
                verdict = FactVerdict.Contradicts;
            switch (verdict)
            {
                case FactVerdict.Same:
                    return record.SaidAlready(infantId, row, stated);
                case FactVerdict.Contradicts or FactVerdict.Replaces when SaidBefore(infantId, row, fact):
                    return record.SaidAlready(infantId, row, stated);
                case FactVerdict.Contradicts when SaidBeside(infantId, row, fact):
                    return record.SaidAlready(infantId, row, stated);
                case FactVerdict.Contradicts when row.Chosen is null:
                    return AppliedRow.Held(infantId, HoldReason.ContradictsRecord);
                case FactVerdict.Contradicts when row.Decision is { Beside: true } && fact is not ReportedBirth:
                    continue;
                case FactVerdict.Contradicts or FactVerdict.Replaces:
                    record.Attach(infantId, row, stated);
                    record.Replace(earlier, row, result);
                    return AppliedRow.Accepted(infantId);
            }
        }

        return null;
    }

    /// <summary>An undated fact says what holds now, and its site said something else of it after the earlier one: saying the earlier again
    /// is news.</summary>
    private bool IsOutdated(Guid infantId, ReportedFact fact, RecordedFact earlier) =>
        fact.IsUndated && fact.Outdates(earlier.Fact) && recorded.Of(infantId).Any(later => later.SiteId == earlier.SiteId
            && fact.Outdates(later.Fact)
            && (later.RecordedAt, later.RowNumber).CompareTo((earlier.RecordedAt, earlier.RowNumber)) > 0);

    /// <summary>It stands beside what it contradicts, since a person said that both happened.</summary>
    private bool SaidBeside(Guid infantId, RowToApply row, ReportedFact fact) => fact is not ReportedBirth && recorded.Of(infantId)
        .Any(f => CompareFacts.Compare(fact, f.Fact, f.SiteId == row.SiteId.Value, out _) == FactVerdict.Same);

    private AppliedRow AddNew(Guid infantId, RowToApply row, in StatedIdentity stated, ReportedFact fact)
    {
        if (SaidBefore(infantId, row, fact)) return record.SaidAlready(infantId, row, stated);
        record.Attach(infantId, row, stated);
        record.Add(infantId, row, fact);
        if (fact is ReportedBirth birth) record.BirthIsKnown(infantId, birth);
        return AppliedRow.Accepted(infantId);
    }

    /// <summary>Both numbers become the infant's; a number of another infant stays where it is.</summary>
    private AppliedRow Merge(Guid infantId, RowToApply row, in StatedIdentity stated)
    {
        var isNew = record.Attach(infantId, row, stated);
        isNew |= record.Attach(infantId, row, stated with { RecordNumber = stated.PriorRecordNumber, CardId = null });
        return isNew ? AppliedRow.Accepted(infantId) : AppliedRow.Unchanged(infantId);
    }

    /// <summary>The site said exactly this, and it was corrected, retracted or, a birth, restated by another since: a file sent again
    /// changes nothing. A birth one site restates by plain reports is whatever it said last.</summary>
    private bool SaidBefore(Guid infantId, RowToApply row, ReportedFact fact) =>
        row is { Chosen: null, Row.Action: RowAction.Report }
        && recorded.ClosedOf(infantId).Any(f => f.SaidBy == row.SiteId.Value
            && (fact is not ReportedBirth || f.ClosedBy != RowAction.Report || IsOthersWord(infantId, row))
            && CompareFacts.Compare(fact, f.Fact, true, out _) == FactVerdict.Same);

    /// <summary>The birth that holds was stated last by another site.</summary>
    private bool IsOthersWord(Guid infantId, RowToApply row) =>
        recorded.Of(infantId).Any(f => f.Fact is ReportedBirth && f.SaidBy != row.SiteId.Value);
}
