using Firely.Fhir.Validation;
using Hl7.Fhir.Model;
using Hl7.Fhir.Specification.Source;
using Hl7.Fhir.Specification.Terminology;

namespace Registry.Tests.Fhir;

/// <summary>The R4 specification itself (its definitions and value sets, FHIR 4.0.1), asked by an independent validator.</summary>
internal static class R4
{
    private static readonly CachedResolver Definitions = new(ZipSource.CreateValidationSource());
    private static readonly Validator Validator = new(Definitions, new LocalTerminologyService(Definitions), null, null);
    private static readonly Lock OneAtATime = new();

    /// <summary>No error; terminologies that are not part of the specification (LOINC, SNOMED CT, ours) cannot be looked up.</summary>
    public static void AssertValid(Resource resource)
    {
        lock (OneAtATime)
        {
            var outcome = Validator.Validate(resource);
            var errors = outcome.Issue.Where(i => i.Severity is OperationOutcome.IssueSeverity.Error or OperationOutcome.IssueSeverity.Fatal)
                .Select(i => $"{string.Join(' ', i.Expression)}: {i.Details?.Text ?? i.Diagnostics}").ToList();
            Assert.True(errors.Count == 0, string.Join('\n', errors.Take(20)) + "\n" + FhirBed.Json(resource));
        }
    }
}
