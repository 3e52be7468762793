using Registry.Rules.Facts;

namespace Registry.Rules.Linkage;

/// <summary>
/// Which infant a report is about. A deterministic rule: what is not certain is held, never guessed, because a result
/// filed under another child hides that child's own.
/// </summary>
/// <remarks>
/// <list type="number">
/// <item>An exact identifier (record number within its site, card id within the region) decides, unless the two point to
/// different infants or the birth date, sex or birth order contradicts the infant it points to: held.</item>
/// <item>Otherwise the birth date must agree, and so must every stated one of mother's family name, mother's given name
/// and mother's birth date, at least two of them stated on both sides, and the sex. When either side speaks of a multiple
/// birth, both must state the birth order. Exactly one such infant, and no other that fits in part: a match. One that is
/// already known under another identifier of the same kind is held: twins are two infants with one mother and one
/// birth date, and only their own numbers tell them apart.</item>
/// <item>An infant whose birth order differs, or whose sex differs in a multiple birth, is a sibling and no candidate.</item>
/// <item>With no candidate a birth makes a new infant (with its birth order, if a multiple); any other report waits.</item>
/// </list>
/// Deterministic linkage of this kind favours precision over recall (Sayers, Ben-Shlomo, Blom, Steele,
/// Int J Epidemiol 2016;45:954, from memory); recall is left to the people who review what is held.
/// </remarks>
public static class DecideMatch
{
    /// <param name="row">What the report states.</param>
    /// <param name="isBirth">The report is a birth: it may make a new infant.</param>
    /// <param name="byRecordNumber">The infant its record number belongs to, if any.</param>
    /// <param name="byCardId">The infant its card id belongs to, if any.</param>
    /// <param name="candidates">Infants with the same birth date that might be meant; others are ignored.</param>
    public static MatchDecision Decide(
        in Identity row,
        bool isBirth,
        MatchCandidate? byRecordNumber,
        MatchCandidate? byCardId,
        IReadOnlyList<MatchCandidate> candidates)
    {
        if (byRecordNumber is { } r && byCardId is { } c && r.InfantId != c.InfantId)
            return MatchDecision.Hold(HoldReason.IdentifiersDisagree);
        if ((byRecordNumber ?? byCardId) is { } hit)
            return Contradicts(row, hit.Identity)
                ? MatchDecision.Hold(HoldReason.IdentifierContradicted)
                : MatchDecision.Match(hit.InfantId);

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
        if (full is { } found) return MatchDecision.Match(found.InfantId);
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
