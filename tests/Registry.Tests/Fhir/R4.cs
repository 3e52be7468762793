using Firely.Fhir.Validation;
using Hl7.Fhir.Model;
using Hl7.Fhir.Specification.Source;
using Hl7.Fhir.Specification.Terminology;

namespace Registry.Tests.Fhir;

/// <summary>
/// The R4 specification itself (its definitions and value sets, FHIR 4.0.1), asked by an independent validator. Some hundred megabytes
/// while the tests of this collection run, and given back after them: others measure memory.
/// </summary>
public sealed class R4 : IDisposable
{
    private static readonly Lock OneAtATime = new();
    private static Validator? _validator;

    private static Validator Validator
    {
        get
        {
            if (_validator is not null) return _validator;
            var definitions = new CachedResolver(ZipSource.CreateValidationSource());
            return _validator = new Validator(definitions, new LocalTerminologyService(definitions), null, null);
        }
    }

    public void Dispose()
    {
        lock (OneAtATime) _validator = null;
    }

    /// <summary>No error; terminologies that are not part of the specification (LOINC, SNOMED CT, ours) cannot be looked up.</summary>
    public static void AssertValid(Resource resource)
    {
        lock (OneAtATime)
        {
            var outcome = Validator.Validate(resource);
            var errors = outcome.Issue.Where(
                i => i.Severity is OperationOutcome.IssueSeverity.Error or OperationOutcome.IssueSeverity.Fatal)
                .Select(i => $"{string.Join(' ', i.Expression)}: {i.Details?.Text ?? i.Diagnostics}").ToList();
            Assert.True(errors.Count == 0, string.Join('\n', errors.Take(20)) + "\n" + FhirBed.Json(resource));
        }
    }
}

[CollectionDefinition(nameof(R4))]
public sealed class R4Collection : ICollectionFixture<R4>;
