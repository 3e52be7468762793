using Registry.Rules.Facts;

namespace Registry.Rules.Linkage;

/// <summary>
/// Which infant a report is about. A deterministic rule: what is not certain is held, never guessed, because a result
/// filed under another child hides that child's own.
/// </summary>
/// <remarks>
/// <list type="number">
/// <item>An exact identifier (record number within its site, card id within the region) leads to an infant the sending site has
/// already spoken of, and to no other unless the row states two details that agree (<see cref="Corroborates"/>): card ids can be
/// guessed. It decides, unless the two point to different infants or the birth date, sex or birth order contradicts the infant it
/// points to: held. One that leads nowhere is as if it were not stated.</item>
/// <item>Otherwise the birth date must agree, and so must every stated one of mother's family name, mother's given name
/// and mother's birth date, at least two of them stated on both sides, and the sex. When either side speaks of a multiple
/// birth, both must state the birth order. Exactly one such infant, and no other that fits in part: a match. One that is
/// already known under another identifier of the same kind is held: twins are two infants with one mother and one
/// birth date, and only their own numbers tell them apart.</item>
/// <item>An infant whose birth order differs, or whose sex differs in a multiple birth, is a sibling and no candidate.</item>
/// <item>With no candidate a birth makes a new infant (with its birth order, if a multiple); any other report waits.</item>
/// <item>A match by details alone holds as long as its candidates are what they were: it is asked again when an infant comes, or is said
/// to be another, that fits as well (<see cref="MatchDecision.ByDetails"/>).</item>
/// <item>Found is not yet followed: a report of a site that has nothing to do with the infant so far is a claim, and waits until
/// somebody who has says that the site cares for it (<see cref="SiteLink"/>).</item>
/// </list>
/// Deterministic linkage of this kind favours precision over recall (Sayers, Ben-Shlomo, Blom, Steele,
/// Int J Epidemiol 2016;45:954, from memory); recall is left to the people who review what is held.
/// </remarks>
public static class DecideMatch
{
    /// <param name="row">What the report states.</param>
    /// <param name="isBirth">The report is a birth: it may make a new infant.</param>
    /// <param name="carriers">The infants that carry one of its identifiers.</param>
    /// <param name="candidates">Infants with the same birth date that might be meant; others are ignored.</param>
    public static MatchDecision Decide(
        in Identity row, bool isBirth, IReadOnlyList<MatchCandidate> carriers, IReadOnlyList<MatchCandidate> candidates)
    {
        MatchCandidate? hit = null;
        foreach (var carrier in carriers)
        {
            if (!LeadsTo(row, carrier)) continue;
            if (hit is { } other && other.InfantId != carrier.InfantId) return MatchDecision.Hold(HoldReason.IdentifiersDisagree);
            hit = carrier;
        }

        if (hit is { } found)
        {
            // Whether sex or birth order agree is told to a site that has something to do with the infant.
            return found.Link >= SiteLink.Agreed && Contradicts(row, found.Identity)
                ? MatchDecision.Hold(HoldReason.IdentifierContradicted) : Follow(found);
        }

        return ByDetails(row, isBirth, candidates);
    }

    /// <summary>An identifier of the row leads to this infant, which carries it.</summary>
    public static bool LeadsTo(in Identity row, in MatchCandidate carrier) =>
        carrier.Link == SiteLink.Known || Corroborates(row, carrier.Identity);

    /// <summary>Whoever states an identifier also knows whose it is: the birth date, and the mother's family name or birth date.</summary>
    public static bool Corroborates(in Identity row, in Identity known) =>
        row.BornOn is { } born && born == known.BornOn
        && ((row.MotherFamily is { } family && family == known.MotherFamily)
            || (row.MotherBornOn is { } mother && mother == known.MotherBornOn));

    /// <summary>Every detail the matching asks for is stated on both sides and agrees.</summary>
    public static bool FitsFully(in Identity row, in Identity known) => Compare(row, known) == Agreement.Full;

    private static MatchDecision Follow(in MatchCandidate found) => found.Link switch
    {
        SiteLink.Known or SiteLink.Agreed => MatchDecision.Match(found.InfantId),
        SiteLink.Refused => MatchDecision.Claim(found.InfantId, HoldReason.NotConfirmed),
        _ => MatchDecision.Claim(found.InfantId, HoldReason.AwaitsConfirmation),
    };

    private static MatchDecision ByDetails(in Identity row, bool isBirth, IReadOnlyList<MatchCandidate> candidates)
    {
        MatchCandidate? full = null;
        HoldReason? doubt = null;
        foreach (var candidate in candidates)
        {
            switch (Compare(row, candidate.Identity))
            {
                case Agreement.Full when full is null && !candidate.HasOtherIdentifier: full = candidate; break;
                case Agreement.Full when full is null: doubt ??= HoldReason.PartialAgreement; break;
                case Agreement.Full: doubt = HoldReason.SeveralCandidates; break;
                case Agreement.OrderMissing: doubt ??= HoldReason.BirthOrderMissing; break;
                case Agreement.Partial: doubt ??= HoldReason.PartialAgreement; break;
            }
        }

        if (doubt is { } reason)
            return MatchDecision.Hold(full is not null ? HoldReason.SeveralCandidates : reason);
        if (full is { } found) return Follow(found) is { Kind: MatchKind.Match } match ? match with { ByDetails = true } : Follow(found);
        if (!isBirth) return MatchDecision.Hold(HoldReason.NoSuchInfant);
        return row.IsMultiple && row.BirthOrder is null
            ? MatchDecision.Hold(HoldReason.BirthOrderMissing)
            : MatchDecision.Create;
    }

    private enum Agreement { None, Partial, OrderMissing, Full }

    private static bool Contradicts(in Identity row, in Identity known) =>
        Differ(row.BornOn, known.BornOn) || Differ(row.BirthOrder, known.BirthOrder) || SexesDiffer(row, known);

    private static Agreement Compare(in Identity row, in Identity known)
    {
        if (row.BornOn is null || row.BornOn != known.BornOn) return Agreement.None;

        var agree = 0;
        var differ = 0;
        Count(row.MotherFamily, known.MotherFamily, ref agree, ref differ);
        Count(row.MotherGiven, known.MotherGiven, ref agree, ref differ);
        Count(row.MotherBornOn, known.MotherBornOn, ref agree, ref differ);
        // One agreeing detail of the mother beside a differing one is chance: common names, shared birthdays.
        if (agree == 0 || (differ > 0 && agree < 2)) return Agreement.None;

        var multiple = row.IsMultiple || known.IsMultiple;
        if (Differ(row.BirthOrder, known.BirthOrder)) return Agreement.None;
        if (SexesDiffer(row, known)) return multiple ? Agreement.None : Agreement.Partial;
        if (differ > 0 || agree < 2) return Agreement.Partial;
        if (multiple && (row.BirthOrder is null || known.BirthOrder is null)) return Agreement.OrderMissing;
        return row.Sex == Sex.Unknown || known.Sex == Sex.Unknown ? Agreement.Partial : Agreement.Full;
    }

    private static void Count<T>(T? stated, T? known, ref int agree, ref int differ)
    {
        if (stated is null || known is null) return;
        if (EqualityComparer<T>.Default.Equals(stated, known)) agree++;
        else differ++;
    }

    private static bool Differ<T>(T? stated, T? known) where T : struct, IEquatable<T> =>
        stated is { } a && known is { } b && !a.Equals(b);

    private static bool SexesDiffer(in Identity row, in Identity known) =>
        row.Sex != Sex.Unknown && known.Sex != Sex.Unknown && row.Sex != known.Sex;
}
