using Hl7.Fhir.Model;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Fhir;

/// <summary>Our codes as codes of the standards, and as our own where no standard has one.</summary>
internal static class WriteConcept
{
    public static Observation.ComponentComponent Part(string field, DataType value) =>
        new() { Code = OwnConcept(FhirSystems.Field, field), Value = value };

    /// <summary>The ear an observation is of.</summary>
    public static CodeableConcept Site(Ear ear) => Concept(StandardCodes.All.First(c => c.Set == CodeSet.BodySite && c.Ear == ear));

    /// <summary>What an observation, or a part of one, says by the code of LOINC.</summary>
    public static CodeableConcept Loinc(string means, Ear? ear = null) =>
        Concept(StandardCodes.Saying(CodeSet.Observation, CodingSystem.Loinc, means, ear)!);

    public static CodeableConcept OwnConcept(string system, string code) => new(system, code) { Text = code.Replace('_', ' ') };

    private static CodeableConcept Concept(StandardCode code) => new() { Coding = [Coding(code)] };

    /// <summary>A display only where the published name is known.</summary>
    private static Coding Coding(StandardCode code) =>
        new(FhirSystems.UriOf(code.System), code.Code)
        {
            Display = code is { Source: 'F', System: CodingSystem.Loinc } ? code.Display : null,
        };

    /// <summary>A meaning by every code that says it, and by our own.</summary>
    public static CodeableConcept Said(CodeSet set, string own, string means) => new()
    {
        Coding =
        [
            .. Enum.GetValues<CodingSystem>().Select(s => StandardCodes.Saying(set, s, means)).OfType<StandardCode>().Select(Coding),
            new(own, means),
        ],
    };

    public static CodeableConcept Reason(ScreeningReason reason)
    {
        var concept = new CodeableConcept();
        if (reason != ScreeningReason.Other
            && StandardCodes.Saying(CodeSet.Outcome, CodingSystem.Loinc, "not_performed", null, reason) is { } code)
            concept.Coding.Add(Coding(code));
        concept.Coding.Add(new(FhirSystems.Reason, Codes.Of(reason)));
        return concept;
    }
}
