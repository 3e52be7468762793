using System.Globalization;
using Hl7.Fhir.Model;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>A diagnostic evaluation: an Observation of LOINC 98418-7 whose components say what was found in both ears.</summary>
public sealed partial class TranslateBundle
{
    private static bool IsOfEvaluation(string? means) =>
        means is "finding" or "degree" or "abr_click" || means?.StartsWith("threshold_", StringComparison.Ordinal) == true;

    private void Evaluation(Seen seen)
    {
        var o = seen.Observation;
        var row = Add(seen.Entry, RowKind.Diagnosis);
        _subjects[row] = seen.Subject;
        Status(row, o.Status, seen.Path);
        if (o.Status == ObservationStatus.Preliminary) row.Set(Field.Provisional, "true", $"{seen.Path}.status");
        var effective = FhirTime.TextOf(o.Effective);
        if (FhirTime.Day(effective, _zone) is { } day) row.Set(Field.EvaluatedOn, FhirTime.Iso(day), $"{seen.Path}.effective");
        else row.Refuse(Field.EvaluatedOn, $"{seen.Path}.effective", effective is null ? "is required" : "must be a whole date", effective);
        row.Set(Field.Evaluator, ScreenerOf(o), $"{seen.Path}.performer");
        foreach (var (component, index) in o.Component.Select((c, index) => (c, index)))
            OfEvaluation(row, seen, component, $"{seen.Path}.component[{index}]");
    }

    private void OfEvaluation(FhirRow row, Seen seen, Observation.ComponentComponent component, string path)
    {
        if (component.Code.Coding.Select(c => FhirSystems.Own<Field>(FhirSystems.Field, c)).FirstOrDefault(f => f is not null) is { } field)
        {
            if (!CheckRow.FieldsOf(RowKind.Diagnosis).Contains(field) || field == Field.EvaluatedOn)
                Say(seen.Entry, path, "is not a column of a diagnosis");
            else if (ReadFields.ThresholdFields.Any(t => t.Field == field)) AddThreshold(row, field, ValueOf(component), $"{path}.value");
            else row.Set(field, ValueOf(component), $"{path}.value");
            return;
        }

        var code = component.Code.Coding.Select(c => FhirSystems.Find(CodeSet.Observation, c)).FirstOrDefault(c => c is not null);
        var right = code?.Ear == Ear.Right;
        switch (code?.Means)
        {
            case "finding":
                Own<EarFinding>(right ? Field.RightFinding : Field.LeftFinding, FhirSystems.Finding);
                break;
            case "degree":
                Own<LossDegree>(right ? Field.RightDegree : Field.LeftDegree, FhirSystems.Degree);
                break;
            case "abr_click":
                Threshold(right ? Field.RightAbr : Field.LeftAbr, "click");
                break;
            case { } means when IsOfEvaluation(means):
                Threshold(right ? Field.RightAir : Field.LeftAir, means["threshold_".Length..]);
                break;
            default:
                Say(seen.Entry, path, "is not recorded");
                break;
        }

        void Own<T>(Field column, string system) where T : struct, Enum
        {
            var codings = (component.Value as CodeableConcept)?.Coding;
            var own = codings?.Select(c => FhirSystems.Own<T>(system, c)).FirstOrDefault(c => c is not null);
            if (own is { } value) row.Set(column, Codes.Of(value), $"{path}.value");
            else row.Refuse(column, $"{path}.value", $"carries no known code of {system}", Stated(component.Value));
        }

        void Threshold(Field column, string frequency)
        {
            if (component.Value is not Quantity { Value: { } db } quantity || (quantity.Code ?? quantity.Unit) is not ("dB" or "dB[HL]"))
            {
                row.Refuse(column, $"{path}.value", "is not a quantity in dB (UCUM)", Stated(component.Value));
                return;
            }

            var none = quantity.Comparator is Quantity.QuantityComparator.GreaterThan ? ">" : "";
            AddThreshold(row, column, $"{frequency}:{none}{db.ToString(CultureInfo.InvariantCulture)}", $"{path}.value");
        }
    }

    /// <summary>Several components may state thresholds of one column.</summary>
    private static void AddThreshold(FhirRow row, Field field, string? text, string path)
    {
        if (string.IsNullOrWhiteSpace(text)) return;
        row.Set(field, row.Values.GetValueOrDefault(field) is { } before ? $"{before};{text}" : text, path);
    }
}
