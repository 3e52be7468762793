using Registry.Facts;
using Registry.Matching;
using Registry.Records;
using Registry.Rules.Linkage;

namespace Registry.Intake.Applying;

/// <summary>Which infant a row is about: as a person decided, else as the matching rule says.</summary>
internal sealed class DecideInfant(KnownInfants known, RecordedFacts recorded)
{
    public MatchDecision Of(RowToApply row, in StatedIdentity stated)
    {
        switch (row.Decision)
        {
            case { InfantId: { } chosen }:
                return known.Knows(chosen) ? MatchDecision.Match(chosen) : MatchDecision.Hold(HoldReason.NoSuchInfant);
            case { InfantId: null } when row.Row.Kind == RowKind.Birth:
                return MatchDecision.Create;
        }

        var decision = known.Decide(stated, row.StatesBirth);
        return decision.Reason == HoldReason.IdentifierContradicted && OfOwnBirthCorrected(row, stated) is { } own
            ? MatchDecision.Match(own) : decision;
    }

    /// <summary>The infant whose birth date, sex or birth order the birth site corrects: known by the site's own record number, and the
    /// mother's family name or birth date agrees. Null when it is not that.</summary>
    private Guid? OfOwnBirthCorrected(RowToApply row, in StatedIdentity stated)
    {
        if (row.Row is not { Kind: RowKind.Birth, Action: RowAction.Correct } || known.ByRecordNumber(stated) is not { } infantId)
            return null;
        var (says, was) = (stated.Identity, known.IdentityOf(infantId));
        var sameName = says.MotherFamily is not null && says.MotherFamily == was.MotherFamily;
        var sameBirth = says.MotherBornOn is not null && says.MotherBornOn == was.MotherBornOn;
        return (sameName || sameBirth) && recorded.Of(infantId).Any(f => f.Fact is ReportedBirth && f.SiteId == row.SiteId.Value)
            ? infantId : null;
    }
}
