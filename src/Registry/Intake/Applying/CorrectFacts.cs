using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Matching;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>Corrections and retractions: a site replaces or takes back its own words, never another's. docs/intake states the
/// rules.</summary>
public sealed partial class ApplyRows
{
    /// <summary>What the row's site said about the same thing gives way to the row, whole; null when it said nothing.</summary>
    private AppliedRow? Correct(Guid infantId, RowToApply row, in StatedIdentity stated, ReportedFact fact)
    {
        var said = _recorded.Of(infantId).Where(f => IsOwn(f, row) && CompareFacts.AboutTheSame(fact, f.Fact)).ToList();
        if (said.Exists(f => f.Fact == fact)) return Unchanged(infantId, row, stated);
        if (said.Count == 0) return null;
        if (said.Count > 1) return new(RowOutcome.Held, infantId, HoldReason.SeveralRecorded);
        if (fact is ReportedBirth && _recorded.Of(infantId).Any(f => f.Fact.On < fact.On && f.Fact is not ReportedBirth))
            return new(RowOutcome.Rejected, infantId, null, new Problem(Field.BirthDate, "is after something recorded for the infant"));
        Attach(infantId, row, stated);
        Replace(said[0], row, fact);
        if (fact is ReportedBirth birth) TellBirth(infantId, row, birth);
        return new(RowOutcome.Accepted, infantId);
    }

    /// <summary>Closes what the row's site said; it stays readable. Another site's words are not touched (a birth others stated too is for
    /// a person to decide), nor those of a later row of the same submission.</summary>
    private AppliedRow Retract(Guid infantId, RowToApply row)
    {
        bool Named(RecordedFact f) => IsOwn(f, row) && CompareFacts.Names(row.Row.Fact, f.Fact);
        var said = _recorded.Of(infantId).Where(Named).ToList();
        if (said.RemoveAll(f => f.SubmissionId == row.SubmissionId && f.RowNumber > row.RowNumber) > 0 && said.Count == 0)
            return new(RowOutcome.Unchanged, infantId);
        if (said.Count == 0)
        {
            return _recorded.ClosedOf(infantId).Any(f => f.ClosedBy == RowAction.Retract && Named(f))
                ? new(RowOutcome.Unchanged, infantId) : new(RowOutcome.Held, infantId, HoldReason.NothingRecorded);
        }

        var isBirth = row.Row.Kind == RowKind.Birth;
        if (isBirth && said.Exists(f => f.SaidBy != row.SiteId.Value)) return new(RowOutcome.Held, infantId, HoldReason.ContradictsRecord);
        if (isBirth && _recorded.Of(infantId).Any(f => f.Fact is not ReportedBirth))
            return new(RowOutcome.Held, infantId, HoldReason.OthersRestOnIt);
        foreach (var fact in said) Close(fact, row);
        if (isBirth) _known.Restate(infantId, default);
        return new(RowOutcome.Accepted, infantId);
    }

    /// <summary>The site said exactly this, and it was corrected, retracted or, a birth, restated by another since: a file sent again
    /// changes nothing. A birth one site restates by plain reports is whatever it said last.</summary>
    private bool SaidBefore(Guid infantId, RowToApply row, ReportedFact fact) =>
        row is { Chosen: null, Row.Action: RowAction.Report }
        && _recorded.ClosedOf(infantId).Any(f => f.SaidBy == row.SiteId.Value
            && (fact is not ReportedBirth || f.ClosedBy != RowAction.Report || IsOthersWord(infantId, row))
            && CompareFacts.Compare(fact, f.Fact, true, out _) == FactVerdict.Same);

    /// <summary>The birth that holds was stated last by another site.</summary>
    private bool IsOthersWord(Guid infantId, RowToApply row) => _recorded.Of(infantId)
        .Any(f => f.Fact is ReportedBirth && f.SaidBy != row.SiteId.Value);

    /// <summary>The site's own words, or those about its own birth.</summary>
    private static bool IsOwn(RecordedFact fact, RowToApply row) => fact.SaidBy == row.SiteId.Value || fact.SiteId == row.SiteId.Value;

    /// <summary>The infant whose birth date, sex or birth order the birth site corrects: known by the site's own record number, and the
    /// mother's family name or birth date agrees. Null when it is not that.</summary>
    private Guid? IsOwnBirthCorrected(RowToApply row, in StatedIdentity stated)
    {
        if (row.Row is not { Kind: RowKind.Birth, Action: RowAction.Correct } || _known.ByRecordNumber(stated) is not { } infantId)
            return null;
        var (said, known) = (stated.Identity, _known.IdentityOf(infantId));
        var sameName = said.MotherFamily is not null && said.MotherFamily == known.MotherFamily;
        var sameBirth = said.MotherBornOn is not null && said.MotherBornOn == known.MotherBornOn;
        return (sameName || sameBirth) && _recorded.Of(infantId).Any(f => f.Fact is ReportedBirth && f.SiteId == row.SiteId.Value)
            ? infantId : null;
    }

    private void Close(RecordedFact fact, RowToApply row)
    {
        _recorded.Close(fact, row.Row.Action);
        _write.Close(fact, row.Provenance);
        _newlyKnown.Infants.Add(fact.InfantId);
    }
}
