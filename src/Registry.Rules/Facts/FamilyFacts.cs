namespace Registry.Rules.Facts;

/// <summary>Who somebody is to the infant. HL7 v2 table 0063 and v3 RoleCode have a code for each (Intake/Rows/FamilyCodes.cs).
/// <see cref="Self"/> is where the child itself lives, whoever is there: an address or number that came without a person.</summary>
public enum FamilyRelation
{
    Mother, Father, OtherParent, Guardian, FosterParent, Agency, Grandparent, OtherRelative, Self, Other
}

/// <summary>What kind of telephone it is (FHIR contact-point-use; HL7 v2 tables 0201 and 0202).</summary>
public enum PhoneUse { Mobile, Home, Work, Other }
