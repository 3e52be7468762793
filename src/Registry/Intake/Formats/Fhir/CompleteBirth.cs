using System.Globalization;
using Hl7.Fhir.Model;
using Registry.Intake.Rows;

namespace Registry.Intake.Formats.Fhir;

/// <summary>What completes a birth: the mother, the admission, plurality, weight and gestation.</summary>
public sealed partial class TranslateBundle
{
    private void Mother(int entry, RelatedPerson person)
    {
        var path = PathOf(entry);
        if (Subject(entry) is not { } subject || BirthOf(subject, entry) is not { } row) return;
        Names(row, person.Name, Field.MotherGivenName, Field.MotherFamilyName, $"{path}.name");
        row.Set(Field.MotherBirthDate, person.BirthDate, $"{path}.birthDate");
        Contact(row, person.Telecom, $"{path}.telecom");
    }

    /// <summary>The admission the infant was born in gives the day of discharge.</summary>
    private void BirthEncounter(int entry, Encounter encounter)
    {
        var path = PathOf(entry);
        if (encounter.Status is Encounter.EncounterStatus.Cancelled or Encounter.EncounterStatus.EnteredInError)
        {
            Say(entry, $"{path}.status", "a cancelled encounter is not recorded");
            return;
        }

        if (Subject(entry) is not { } subject) return;
        if (subject.Identifier is not null)
        {
            SayNotBirth(entry, path);
            return;
        }

        if (BirthOf(subject, entry) is not { } row) return;
        if (!IsBirthAdmission(encounter, row))
        {
            SayNotBirth(entry, path);
            return;
        }

        if (encounter.Period?.End is not { } end) return;
        if (FhirTime.Day(end, _zone) is { } day) row.Set(Field.DischargedOn, FhirTime.Iso(day), $"{path}.period.end");
        else row.Refuse(Field.DischargedOn, $"{path}.period.end", "must be a whole date", end);
    }

    private void SayNotBirth(int entry, string path) =>
        Say(entry, path, "only the day of discharge from the birth admission is recorded");

    /// <summary>An inpatient stay that began on the day of birth or the day after.</summary>
    private bool IsBirthAdmission(Encounter encounter, FhirRow birth) =>
        IsInpatient(encounter) && birth.Values.TryGetValue(Field.BirthDate, out var text)
            && DateOnly.TryParse(text, CultureInfo.InvariantCulture, out var born)
        && FhirTime.Day(encounter.Period?.Start, _zone) is { } start && start >= born && start.DayNumber - born.DayNumber <= 1;

    private void CompleteBirth(Seen seen)
    {
        if (seen.Code.Means is not ("plurality" or "birth_weight" or "gestation" or "card" or "provider")) return;
        var path = $"{PathOf(seen.Entry)}.value";
        if (seen.Observation.Status == ObservationStatus.EnteredInError)
        {
            Reject(seen.Entry, new Problem($"{PathOf(seen.Entry)}.status",
                "a part of a birth is not taken back by itself: send the Patient as it is"));
            return;
        }

        if (BirthOf(seen.Subject, seen.Entry) is not { } row) return;
        var stated = seen.Observation.Value;
        switch (seen.Code.Means)
        {
            case "plurality":
                Take(Field.Plurality, PluralityOf(seen.Entry, stated, path), "is neither an integer nor a known answer of 57722-1");
                break;
            case "birth_weight":
                Take(Field.BirthWeightG, Measure(stated, ("g", 1), ("kg", 1000)), "is not a quantity in g or kg (UCUM)");
                break;
            case "gestation":
                Take(Field.GestationWeeks, Measure(stated, ("wk", 1), ("d", 1m / 7)), "is not a quantity in wk or d (UCUM)");
                break;
            case "provider":
                Take(Field.PostDischargeProvider, TextOf(stated), "is not a text");
                break;
            default:
                Take(Field.CardId, TextOf(stated), "is not a text");
                break;
        }

        void Take(Field field, string? value, string otherwise)
        {
            if (value is null) row.Refuse(field, path, otherwise, Stated(stated));
            else row.Set(field, value, path);
        }
    }

    private string? PluralityOf(int entry, DataType? stated, string path) => stated switch
    {
        Integer i => i.Value?.ToString(CultureInfo.InvariantCulture),
        Quantity { Value: { } value } => value.ToString("0.##", CultureInfo.InvariantCulture),
        CodeableConcept concept => Read(entry, concept, CodeSet.Plurality, null, path).Meaning?.Means,
        _ => null,
    };

    private static string? TextOf(DataType? stated) => stated switch
    {
        FhirString text => text.Value,
        CodeableConcept concept => concept.Text ?? concept.Coding.FirstOrDefault()?.Code,
        _ => null,
    };

    /// <summary>A quantity in the first unit, whole: weeks are completed weeks, grams are rounded down.</summary>
    private static string? Measure(DataType? value, params ReadOnlySpan<(string Unit, decimal Factor)> units)
    {
        if (value is not Quantity { Value: { } number } quantity || number < 0 || number > 1_000_000) return null;
        foreach (var (unit, factor) in units)
        {
            if ((quantity.Code ?? quantity.Unit) == unit && quantity.System is null or FhirSystems.Ucum)
                return decimal.Floor(number * factor + 0.0001m).ToString("0", CultureInfo.InvariantCulture);
        }

        return null;
    }
}
