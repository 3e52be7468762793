using Registry.Rules.Facts;

namespace Registry.Rules.Measures;

/// <summary>Births by occurrence and by residence, and those in military hospitals. Form OMB 0920-0733 asks for military births (tables of
/// 2016: found) and for cases among non-residents (its supporting statement of 2013, ICR 201307-0920-002: found); to split every birth by
/// residence, so that the two add up, is ours.</summary>
internal static class Residence
{
    internal static IEnumerable<Line> Lines { get; } =
    [
        Line.Of("births.resident", "Born here, of residents", i => i.BornInRegion && i.Attributes.Resident == true),
        Line.Of("births.non_resident", "Born here, of non-residents", i => i.BornInRegion && i.Attributes.Resident == false),
        Line.Of("births.residence_unknown", "Born here, state of residence not known",
            i => i.BornInRegion && i.Attributes.Resident is null),
        Line.Of("births.resident_elsewhere", "Residents born elsewhere", i => !i.BornInRegion && i.Attributes.Resident == true),
        Line.Of("births.military", "Born in a military hospital", i => i.Facts.Birth.Place == BirthPlace.MilitaryHospital),
    ];

    internal static Sum Sum { get; } = new("Births by residence are the births", "births",
        ["births.resident", "births.non_resident", "births.residence_unknown"]);
}
