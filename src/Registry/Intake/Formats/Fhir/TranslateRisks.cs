using Hl7.Fhir.Model;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>Risk indicators, and procedures that were not done.</summary>
public sealed partial class TranslateBundle
{
    private static readonly string[] DatedRisks =
        ["meningitis", "sepsis", "mastoiditis", "head_trauma_or_chemotherapy", "caregiver_concern", "ecmo"];

    /// <summary>58232-0: one answer a row; "none" makes no row, nor does an answer this registry keeps no indicator for.</summary>
    private void Risks(Seen seen)
    {
        var answers = new List<(DataType? Value, string Path)> { (seen.Observation.Value, $"{seen.Path}.value") };
        answers.AddRange(seen.Observation.Component.Select((c, i) => (c.Value, $"{seen.Path}.component[{i}].value")));
        foreach (var (value, path) in answers)
        {
            if (value is null) continue;
            var (meaning, two) = value is CodeableConcept concept
                ? Read(seen.Entry, MostSpecific(concept), CodeSet.Risk, FhirSystems.Risk, path) : (
                null, false);
            if (meaning is { Means: "none" })
            {
                Say(seen.Entry, path, "no indicator: nothing to record");
                continue;
            }

            if (meaning is { Means: null })
            {
                Say(seen.Entry, path, "this risk is known, but none of the indicators that are kept: not recorded");
                continue;
            }

            var row = Add(seen.Entry, RowKind.Risk);
            _subjects[row] = seen.Subject;
            Status(row, seen.Observation.Status, seen.Path);
            if (two || meaning is not { } known)
                row.Refuse(Field.Indicator, path, two ? "its codings contradict each other"
                    : "no known code: an answer of LOINC 58232-0, looked up by code and system", Stated(value));
            else
            {
                row.Set(Field.Indicator, known.Means, path);
                // What can happen after birth is dated by its observation; the rest was present at birth.
                if (DatedRisks.Contains(known.Means) && FhirTime.Day(TimeOf(seen.Observation), _zone) is { } day)
                    row.Set(Field.NotedOn, FhirTime.Iso(day), $"{seen.Path}.effective");
            }
        }

        if (answers.TrueForAll(a => a.Value is null)) Reject(seen.Entry, new Problem($"{seen.Path}.value", IsInError(seen)
            ? "is required: it says which indicator is taken back; repeat the answer that was entered in error"
            : "is required: the indicators are always answered, \"none\" too"));
    }

    /// <summary>LOINC's list of answers says only "in utero infection" for several: beside it our own code says which, and is
    /// taken.</summary>
    private static CodeableConcept MostSpecific(CodeableConcept concept) =>
        concept.Coding.Exists(c => FhirSystems.Find(CodeSet.Risk, c) is { Means: "in_utero_infection" })
            && concept.Coding.FindAll(c => FhirSystems.Own<RiskIndicatorKind>(FhirSystems.Risk, c) is not null) is { Count: > 0 } own
            ? new CodeableConcept { Coding = own, Text = concept.Text } : concept;

    /// <summary>A screening that was not done, as a Procedure: each ear its bodySite names, or both. One entered in error takes back what
    /// is recorded of those ears at that time.</summary>
    private void NotDone(int entry, Procedure procedure)
    {
        var path = PathOf(entry);
        var code = procedure.Code?.Coding.Select(c => FhirSystems.Find(CodeSet.Observation, c))
            .FirstOrDefault(c => c is { Means: "panel" or "result" });
        if (code is null)
        {
            Reject(entry, new Problem(
                $"{path}.code", "no known code: a procedure is a hearing screening (LOINC 54111-0, 54109-4 or 54108-6)"));
            return;
        }

        var isError = procedure.Status == EventStatus.EnteredInError;
        if (procedure.Status != EventStatus.NotDone && !isError)
        {
            Say(entry, path, "is recorded by the Observations of its results");
            return;
        }

        if (Subject(entry) is not { } subject) return;
        var named = procedure.BodySite.Select(s => Read(entry, s, CodeSet.BodySite, null, $"{path}.bodySite").Meaning?.Ear).OfType<Ear>()
            .ToList();
        Ear[] ears = code.Ear is { } only ? [only] : named.Count > 0 ? [.. named.Distinct()] : [Ear.Right, Ear.Left];
        var reason = ReasonOf(entry, procedure.StatusReason, $"{path}.statusReason") ?? ScreeningReason.Other;
        foreach (var ear in ears)
        {
            var row = Add(entry, RowKind.Screening);
            _subjects[row] = subject;
            if (isError) row.Set(Field.Action, Codes.Of(RowAction.Retract), $"{path}.status");
            row.Set(Field.Ear, Codes.Of(ear), $"{path}.bodySite");
            if (code.Ear is not null && named.Exists(n => n != ear))
                row.Refuse(Field.Ear, $"{path}.bodySite", "contradicts the ear of the code",
                    $"{Codes.Of(ear)}, {string.Join(", ", named.Select(n => Codes.Of(n)))}");
            row.Set(Field.Outcome, Codes.Of(ScreeningOutcome.NotPerformed), $"{path}.status");
            row.Set(Field.Reason, Codes.Of(reason), $"{path}.statusReason");
            PerformedAt(row, procedure.Performed, $"{path}.performed");
        }
    }
}
