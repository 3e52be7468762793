using Registry.Rules.Facts;

namespace Registry.Rules.Linkage;

/// <summary>
/// What a report states about who the infant is. Null (and <see cref="Sex.Unknown"/>) means not stated, which neither
/// agrees nor disagrees with anything. Mother's names are in the form of <see cref="NormaliseName"/>; plurality is the
/// number of infants of the birth (2 for twins), birth order 1 for the first-born.
/// </summary>
public readonly record struct Identity(
    DateOnly? BornOn,
    string? MotherFamily,
    string? MotherGiven,
    DateOnly? MotherBornOn,
    Sex Sex,
    int? Plurality,
    int? BirthOrder)
{
    /// <summary>Twins or more, as far as stated.</summary>
    public bool IsMultiple => Plurality > 1 || BirthOrder > 1;
}

/// <summary>What the site that sends a report has to do with an infant so far.</summary>
public enum SiteLink
{
    /// <summary>Nothing: what it reports is a claim until somebody confirms it.</summary>
    None,

    /// <summary>Somebody said that the infant is not in its care.</summary>
    Refused,

    /// <summary>Care is handed to it by a stated agreement: its report counts, once two details say which infant it means.</summary>
    Agreed,

    /// <summary>It has spoken of the infant before, care was passed to it, or its claim was confirmed: its identifiers alone say whom
    /// it means.</summary>
    Known,
}

/// <summary>
/// An infant the registry holds that a report might be about. <c>HasOtherIdentifier</c>: the registry already knows this
/// infant under another record number of the reporting site, or another card id, than the report states; two different
/// identifiers of one kind speak for two infants.
/// </summary>
public readonly record struct MatchCandidate(
    Guid InfantId, Identity Identity, bool HasOtherIdentifier = false, SiteLink Link = SiteLink.Known);

/// <summary>Why a row waits for a person, or for another report.</summary>
public enum HoldReason
{
    /// <summary>Record number and card id belong to two different infants.</summary>
    IdentifiersDisagree,

    /// <summary>An identifier is known, but birth date, sex or birth order say another child.</summary>
    IdentifierContradicted,

    /// <summary>More than one infant fits.</summary>
    SeveralCandidates,

    /// <summary>An infant fits in part: not enough to say it is the same, too much to say it is not.</summary>
    PartialAgreement,

    /// <summary>A multiple birth, and which of the infants is not stated.</summary>
    BirthOrderMissing,

    /// <summary>No infant fits yet; applied by itself when the birth arrives.</summary>
    NoSuchInfant,

    /// <summary>The infant is known; the row says something else about a test, evaluation or event already recorded.</summary>
    ContradictsRecord,

    /// <summary>A retraction, and its site has stated nothing of the kind; applied by itself when it does.</summary>
    NothingRecorded,

    /// <summary>A correction, and its site has stated more than one thing it may mean.</summary>
    SeveralRecorded,

    /// <summary>A birth is retracted, and other facts rest on the infant; applied by itself when they are retracted.</summary>
    OthersRestOnIt,

    /// <summary>The infant is known, and its site has nothing to do with it so far; applied by itself when that is confirmed.</summary>
    AwaitsConfirmation,

    /// <summary>Somebody who cares for the infant, or the office, said that its site does not.</summary>
    NotConfirmed,
}

public enum MatchKind { Match, Create, Hold, Claim }

/// <summary>What <see cref="DecideMatch"/> says: an infant id with a match, a reason with a hold, both with a claim.</summary>
public readonly record struct MatchDecision(MatchKind Kind, Guid? InfantId, HoldReason? Reason)
{
    /// <summary>No identifier led there: another infant that fits as well would put it in doubt.</summary>
    public bool ByDetails { get; init; }

    public static MatchDecision Match(Guid infantId) => new(MatchKind.Match, infantId, null);
    public static MatchDecision Create { get; } = new(MatchKind.Create, null, null);
    public static MatchDecision Hold(HoldReason reason) => new(MatchKind.Hold, null, reason);
    public static MatchDecision Claim(Guid infantId, HoldReason reason) => new(MatchKind.Claim, infantId, reason);
}
