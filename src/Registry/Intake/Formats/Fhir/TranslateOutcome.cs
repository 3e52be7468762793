using Hl7.Fhir.Model;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>The outcome of a test of an ear, or that there is none and why.</summary>
public sealed partial class TranslateBundle
{
    private void Outcome(FhirRow row, Seen seen)
    {
        var o = seen.Observation;
        if (o.Status == ObservationStatus.EnteredInError) return;
        var path = $"{seen.Path}.value";
        if (o.Value is not null && o.DataAbsentReason is not null)
        {
            row.Refuse(Field.Outcome, $"{seen.Path}.dataAbsentReason", "there is a value (R4 constraint obs-6)",
                $"{Stated(o.Value)}, {Stated(o.DataAbsentReason)}");
            return;
        }

        if (o.DataAbsentReason is { } absent)
        {
            Absent(row, seen, absent);
            return;
        }

        if (o.Value is not CodeableConcept concept)
        {
            row.Refuse(Field.Outcome, path, "is required: valueCodeableConcept, or dataAbsentReason", Stated(o.Value));
            return;
        }

        var (meaning, two) = Read(seen.Entry, concept, CodeSet.Outcome, FhirSystems.Outcome, path);
        if (two) row.Refuse(Field.Outcome, path, "its codings contradict each other", Stated(concept));
        else if (meaning?.Means is not { } outcome)
            row.Refuse(Field.Outcome, path,
                "no known code: an answer of LOINC 54109-4 / 54108-6 or its SNOMED CT code, looked up by code and system", Stated(concept));
        else
        {
            row.Set(Field.Outcome, outcome, path);
            if (meaning.Value.Reason is { } reason) row.Set(Field.Reason, Codes.Of(reason), path);
        }
    }

    /// <summary>Not done: the reason stands in an observation 73742-9 / 73739-5 beside it, in a component, or in the absence
    /// itself.</summary>
    private void Absent(FhirRow row, Seen seen, CodeableConcept absent)
    {
        var path = $"{seen.Path}.dataAbsentReason";
        var own = absent.Coding.Find(c => c.System == FhirSystems.DataAbsent)?.Code;
        var reason = own == "asked-declined" ? ScreeningReason.Declined : ReasonOf(seen.Entry, absent, path);
        if (own is not ("not-performed" or "asked-declined") && reason is null)
        {
            row.Refuse(Field.Outcome, path,
                "must be not-performed or asked-declined: an attempt without a valid result is a value (LA12408-3)", Stated(absent));
            return;
        }

        row.Set(Field.Outcome, Codes.Of(ScreeningOutcome.NotPerformed), path);
        if (reason is { } r) row.Set(Field.Reason, Codes.Of(r), path);
        foreach (var beside in seen.Beside.Where(b => b.Code.Means == "reason" && !IsInError(b)))
            if (ReasonOf(beside.Entry, beside.Observation.Value, $"{beside.Path}.value") is { } stated)
                SetReason(row, stated, $"{beside.Path}.value");
    }

    private static void SetReason(FhirRow row, ScreeningReason reason, string path)
    {
        if (row.Values.TryGetValue(Field.Reason, out var earlier) && earlier != Codes.Of(reason))
            row.Refuse(Field.Reason, path, "contradicts the reason stated elsewhere", $"{earlier}, {Codes.Of(reason)}");
        else row.Set(Field.Reason, Codes.Of(reason), path);
    }
}
