using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Matching;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>Corrections and retractions: a site replaces or takes back its own words, never another's. docs/intake states the
/// rules.</summary>
internal sealed class CorrectFacts(RecordedFacts recorded, RecordRows record)
{
    /// <summary>What the row's site said about the same thing gives way to the row, whole; null when it said nothing.</summary>
    public AppliedRow? Correct(Guid infantId, RowToApply row, in StatedIdentity stated, ReportedFact fact)
    {
        var said = recorded.Of(infantId).Where(f => IsOwn(f, row) && CompareFacts.AboutTheSame(fact, f.Fact)).ToList();
        if (said.Exists(f => f.Fact == fact)) return record.SaidAlready(infantId, row, stated);
        if (said.Count == 0) return null;
        if (said.Count > 1) return AppliedRow.Held(infantId, HoldReason.SeveralRecorded);
        if (fact is ReportedBirth && recorded.Of(infantId).Any(f => f.Fact.On < fact.On && f.Fact is not ReportedBirth))
            return AppliedRow.Rejected(infantId, new(Field.BirthDate, "is after something recorded for the infant"));
        record.Attach(infantId, row, stated);
        record.Replace(said[0], row, fact);
        if (fact is ReportedBirth birth) record.BirthIsKnown(infantId, birth);
        return AppliedRow.Accepted(infantId);
    }

    /// <summary>Closes what the row's site said; it stays readable. Another site's words are not touched (a birth others stated too is for
    /// a person to decide), nor those of a later row of the same submission.</summary>
    public AppliedRow Retract(Guid infantId, RowToApply row)
    {
        bool Named(RecordedFact f) => IsOwn(f, row) && CompareFacts.Names(row.Row.Fact, f.Fact);
        var said = recorded.Of(infantId).Where(Named).ToList();
        if (said.RemoveAll(f => f.SubmissionId == row.SubmissionId && f.RowNumber > row.RowNumber) > 0 && said.Count == 0)
            return AppliedRow.Unchanged(infantId);
        if (said.Count == 0)
        {
            return recorded.ClosedOf(infantId).Any(f => f.ClosedBy == RowAction.Retract && Named(f))
                ? AppliedRow.Unchanged(infantId) : AppliedRow.Held(infantId, HoldReason.NothingRecorded);
        }

        var isBirth = row.Row.Kind == RowKind.Birth;
        if (isBirth && said.Exists(f => f.SaidBy != row.SiteId.Value)) return AppliedRow.Held(infantId, HoldReason.ContradictsRecord);
        if (isBirth && recorded.Of(infantId).Any(f => f.Fact is not ReportedBirth))
            return AppliedRow.Held(infantId, HoldReason.OthersRestOnIt);
        foreach (var fact in said) record.Close(fact, row);
        if (isBirth) record.ForgetBirth(infantId);
        return AppliedRow.Accepted(infantId);
    }

    /// <summary>The site's own words, or those about its own birth.</summary>
    private static bool IsOwn(RecordedFact fact, RowToApply row) => fact.SaidBy == row.SiteId.Value || fact.SiteId == row.SiteId.Value;
}
