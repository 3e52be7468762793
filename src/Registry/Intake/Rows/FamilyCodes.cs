using System.Collections.Frozen;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>Who somebody is to the infant, by the codes of the standards. The tests hold every code against HL7 table 0063 (npm package
/// hl7-dictionary) and against RoleCode as the FHIR R4 specification has it.</summary>
public static class FamilyCodes
{
    /// <summary>HL7 v3 RoleCode, the first the one that is written; and what else means the same here.</summary>
    private static readonly (FamilyRelation Relation, string[] Roles)[] RoleCodes =
    [
        (FamilyRelation.Mother, ["MTH", "NMTH", "NMTHF", "GESTM"]),
        (FamilyRelation.Father, ["FTH", "NFTH", "NFTHF"]),
        (FamilyRelation.OtherParent, ["PRN", "NPRN", "ADOPTP", "ADOPTM", "ADOPTF", "STPPRN", "STPMTH", "STPFTH"]),
        (FamilyRelation.Guardian, ["GUARD"]),
        (FamilyRelation.FosterParent, ["PRNFOST", "MTHFOST", "FTHFOST"]),
        (FamilyRelation.Grandparent, ["GRPRN", "GRMTH", "GRFTH", "MGRPRN", "MGRMTH", "MGRFTH", "PGRPRN", "PGRMTH", "PGRFTH"]),
        (FamilyRelation.OtherRelative,
            ["EXT", "FAMMEMB", "AUNT", "MAUNT", "PAUNT", "UNCLE", "MUNCLE", "PUNCLE", "COUSN", "SIB", "SIS", "BRO"]),
        (FamilyRelation.Self, ["ONESELF"]),
        (FamilyRelation.Other, ["FRND", "NBOR", "DOMPART", "ROOM"]),
    ];

    /// <summary>HL7 v2 table 0063.</summary>
    private static readonly (FamilyRelation Relation, string[] Codes)[] Table0063 =
    [
        (FamilyRelation.Mother, ["MTH"]), (FamilyRelation.Father, ["FTH"]), (FamilyRelation.OtherParent, ["PAR"]),
        (FamilyRelation.Guardian, ["GRD"]), (FamilyRelation.Grandparent, ["GRP"]),
        (FamilyRelation.OtherRelative, ["EXF", "SIB", "SIS", "BRO"]), (FamilyRelation.Self, ["SEL"]),
        (FamilyRelation.Other, ["OTH", "FND", "OAD", "CGV", "EMC", "DOM"]),
    ];

    private static readonly FrozenDictionary<string, FamilyRelation> Roles = Index(RoleCodes);

    private static readonly FrozenDictionary<string, FamilyRelation>.AlternateLookup<ReadOnlySpan<char>> InMessages =
        Index([.. Table0063, .. RoleCodes]).GetAlternateLookup<ReadOnlySpan<char>>();

    /// <summary>Every code of RoleCode that is understood.</summary>
    public static IEnumerable<string> OfRoleCode => Roles.Keys;

    /// <summary>Every code of table 0063 that is understood.</summary>
    public static IEnumerable<string> OfTable0063 => Table0063.SelectMany(c => c.Codes);

    /// <summary>By a code of RoleCode.</summary>
    public static FamilyRelation? OfRole(string? code) =>
        code is not null && Roles.TryGetValue(code, out var relation) ? relation : null;

    /// <summary>By a code of table 0063, or of RoleCode, which messages carry too: no code of the one means another in the other.</summary>
    public static FamilyRelation? OfMessage(ReadOnlySpan<char> code) => InMessages.TryGetValue(code, out var relation) ? relation : null;

    /// <summary>The RoleCode of a relation; null for an office, which is no role of a person.</summary>
    public static string? RoleOf(FamilyRelation relation) => RoleCodes.FirstOrDefault(r => r.Relation == relation).Roles?[0];

    private static FrozenDictionary<string, FamilyRelation> Index((FamilyRelation Relation, string[] Codes)[] table)
    {
        var found = new Dictionary<string, FamilyRelation>(StringComparer.Ordinal);
        foreach (var (relation, codes) in table)
            foreach (var code in codes) found.TryAdd(code, relation);
        return found.ToFrozenDictionary(StringComparer.Ordinal);
    }
}
