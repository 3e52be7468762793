using Registry.Rules.Facts;

namespace Registry.Rules.Linkage;

/// <summary>How another record may belong to a child that is looked for.</summary>
public enum FamilyTie
{
    /// <summary>Perhaps the same child, recorded twice.</summary>
    SameInfant,

    /// <summary>Perhaps a brother or sister: the same mother, or the same telephone.</summary>
    Sibling,
}

/// <summary>What two records agree in.</summary>
public enum Agreement { Card, BirthDate, MotherFamilyName, MotherGivenName, MotherBirthDate, Phone }

/// <summary>
/// Whether another record may be of the same child or of a brother or sister, and what speaks for it. It only proposes where a person
/// looks; <see cref="DecideMatch"/> decides about rows, and merging is never its matter. Common practice, no source.
/// </summary>
public static class CompareFamilies
{
    /// <returns>Null when nothing says so.</returns>
    public static (FamilyTie Tie, IReadOnlyList<Agreement> On)? Compare(in Identity child, in Identity other, bool sameCard, bool samePhone)
    {
        List<Agreement> on = [];
        if (sameCard) on.Add(Agreement.Card);
        if (child.BornOn is not null && child.BornOn == other.BornOn) on.Add(Agreement.BirthDate);
        if (child.MotherFamily is not null && child.MotherFamily == other.MotherFamily) on.Add(Agreement.MotherFamilyName);
        if (child.MotherGiven is not null && child.MotherGiven == other.MotherGiven) on.Add(Agreement.MotherGivenName);
        if (child.MotherBornOn is not null && child.MotherBornOn == other.MotherBornOn) on.Add(Agreement.MotherBirthDate);
        if (samePhone) on.Add(Agreement.Phone);

        // Two of the mother's three details, as when a row is matched, or the telephone; another surname does not speak against it.
        var isFamily = samePhone
            || on.Count(a => a is Agreement.MotherFamilyName or Agreement.MotherGivenName or Agreement.MotherBirthDate) > 1;
        if (sameCard) return (FamilyTie.SameInfant, on);
        if (!isFamily) return null;
        return (on.Contains(Agreement.BirthDate) && !IsAnother(child, other) ? FamilyTie.SameInfant : FamilyTie.Sibling, on);
    }

    /// <summary>A twin: another place in the order, or another sex.</summary>
    private static bool IsAnother(in Identity child, in Identity other) =>
        child.BirthOrder is { } first && other.BirthOrder is { } second && first != second
        || child.Sex != Sex.Unknown && other.Sex != Sex.Unknown && child.Sex != other.Sex;
}
