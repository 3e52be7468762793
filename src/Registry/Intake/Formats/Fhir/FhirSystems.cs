using Hl7.Fhir.Model;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>The namespaces of codes and identifiers we read and write. Those that start with <c>urn:x-registry</c> are our own.</summary>
public static class FhirSystems
{
    public const string Loinc = "http://loinc.org";
    public const string Snomed = "http://snomed.info/sct";
    public const string DataAbsent = "http://terminology.hl7.org/CodeSystem/data-absent-reason";
    public const string IdentifierType = "http://terminology.hl7.org/CodeSystem/v2-0203";
    public const string RoleCode = "http://terminology.hl7.org/CodeSystem/v3-RoleCode";
    public const string ContactRole = "http://terminology.hl7.org/CodeSystem/v2-0131";
    public const string ActCode = "http://terminology.hl7.org/CodeSystem/v3-ActCode";
    public const string ObservationCategory = "http://terminology.hl7.org/CodeSystem/observation-category";
    public const string Ucum = "http://unitsofmeasure.org";
    public const string BirthTime = "http://hl7.org/fhir/StructureDefinition/patient-birthTime";
    public const string Interpreter = "http://hl7.org/fhir/StructureDefinition/patient-interpreterRequired";
    public const string DataAbsentExtension = "http://hl7.org/fhir/StructureDefinition/data-absent-reason";

    /// <summary>The number on the blood-spot card, unique in the region.</summary>
    public const string CardId = "urn:x-registry:card-id";

    /// <summary>A site's own record number: this, a colon and the site's code.</summary>
    public const string RecordNumber = "urn:x-registry:record-number";

    /// <summary>Codes that are names of our columns, for components no terminology has a code for.</summary>
    public const string Field = "urn:x-registry:field";

    public const string Relation = "urn:x-registry:relation";
    public const string Outcome = "urn:x-registry:outcome";
    public const string Method = "urn:x-registry:method";
    public const string Reason = "urn:x-registry:reason";
    public const string Risk = "urn:x-registry:risk";
    public const string Finding = "urn:x-registry:finding";
    public const string Degree = "urn:x-registry:degree";

    /// <summary>The terminology a coding names, or null.</summary>
    public static CodingSystem? Of(string? system) => system switch
    {
        Loinc => CodingSystem.Loinc,
        Snomed => CodingSystem.Snomed,
        _ => null,
    };

    public static string UriOf(CodingSystem system) => system == CodingSystem.Loinc ? Loinc : Snomed;

    /// <summary>The standard code a coding carries, looked up with its system.</summary>
    public static StandardCode? Find(CodeSet set, Coding coding) =>
        Of(coding.System) is { } system ? StandardCodes.Find(set, system, coding.Code) : null;

    /// <summary>Our own code a coding carries.</summary>
    public static T? Own<T>(string system, Coding coding) where T : struct, Enum =>
        coding.System == system && Codes.TryParse<T>(coding.Code, out var value) ? value : null;
}
