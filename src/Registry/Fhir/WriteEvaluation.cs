using Hl7.Fhir.Model;
using Registry.Facts;
using Registry.Intake.Formats.Fhir;
using Registry.Rules.Facts;
using static Registry.Fhir.WriteConcept;

namespace Registry.Fhir;

/// <summary>What a diagnostic evaluation says, by codes of LOINC where it has them and as our columns otherwise: LOINC knows a threshold by
/// ear and frequency, and neither masking nor bone conduction.</summary>
internal static class WriteEvaluation
{
    public static IEnumerable<Observation.ComponentComponent> Components(ReportedDiagnosis found)
    {
        foreach (var (ear, finding, degree) in new[]
            { (Ear.Right, found.Right, found.RightDegree), (Ear.Left, found.Left, found.LeftDegree) })
        {
            yield return new() { Code = Loinc("finding", ear), Value = OwnConcept(FhirSystems.Finding, Codes.Of(finding)) };
            if (degree != LossDegree.NotStated)
                yield return new() { Code = Loinc("degree", ear), Value = OwnConcept(FhirSystems.Degree, Codes.Of(degree)) };
        }

        if (found.Permanent is { } permanent) yield return Part("permanent", new FhirBoolean(permanent));
        if (found.NextOn is { } next) yield return Part("next_evaluation_on", new FhirDateTime(FhirTime.Iso(next)));
        if (found.Place is { } place) yield return Part("evaluation_place", new FhirString(place));
        if (found.Detail is not { } detail) yield break;
        foreach (var part in Tests(detail)) yield return part;
        foreach (var part in Thresholds(detail)) yield return part;
    }

    private static IEnumerable<Observation.ComponentComponent> Tests(EvaluationDetail detail)
    {
        if (detail.BehavioralMethod is { } method) yield return Coded("behavioral_method", Codes.Of(method));
        if (detail.AirTransducer is { } transducer) yield return Coded("air_transducer", Codes.Of(transducer));
        foreach (var ear in Enum.GetValues<Ear>())
        {
            if (detail.TympanogramOf(ear, high: false) is { } low) yield return Coded($"{Codes.Of(ear)}_tympanogram_low", Codes.Of(low));
            if (detail.TympanogramOf(ear, high: true) is { } high) yield return Coded($"{Codes.Of(ear)}_tympanogram_high", Codes.Of(high));
            if (detail.EmissionsOf(ear) is { } emissions) yield return Coded($"{Codes.Of(ear)}_emissions", Codes.Of(emissions));
        }

        if (detail.EmissionsMethod is { } by) yield return Coded("emissions_method", Codes.Of(by));
        if (detail.AbrScale is { } scale) yield return Coded("abr_scale", Codes.Of(scale));
        if (detail.AbrCorrection is { } correction) yield return Part("abr_correction", new FhirString(correction));
    }

    private static IEnumerable<Observation.ComponentComponent> Thresholds(EvaluationDetail detail)
    {
        foreach (var (column, kind, ear) in WriteEvaluationDetails.Lists)
        {
            var rest = new List<Threshold>();
            foreach (var threshold in detail.Of(kind, ear))
            {
                if (LoincOf(threshold) is not { } code) rest.Add(threshold);
                else yield return new()
                {
                    Code = code,
                    Value = new Quantity(threshold.LevelDb, "dB", FhirSystems.Ucum)
                    {
                        Comparator = threshold.NoResponse ? Quantity.QuantityComparator.GreaterThan : null,
                    },
                };
            }

            if (rest.Count > 0) yield return Part(column, new FhirString(Threshold.Write(rest)));
        }
    }

    /// <summary>The code of an unmasked threshold by air, or of a click's.</summary>
    private static CodeableConcept? LoincOf(Threshold threshold) => threshold switch
    {
        { Masked: true } => null,
        { Kind: ThresholdKind.Air, FrequencyHz: not 125 } => Loinc($"threshold_{threshold.FrequencyHz}", threshold.Ear),
        { Kind: ThresholdKind.AbrAir, FrequencyHz: Threshold.Click } => Loinc("abr_click", threshold.Ear),
        _ => null,
    };

    private static Observation.ComponentComponent Coded(string column, string code) =>
        Part(column, OwnConcept($"urn:x-registry:{column}", code));
}
