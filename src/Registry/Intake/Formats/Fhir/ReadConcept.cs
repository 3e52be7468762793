using Hl7.Fhir.Model;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>What coded values say, by code and system.</summary>
public sealed partial class TranslateBundle
{
    private readonly record struct Meaning(string? Means, Ear? Ear, ScreeningReason? Reason);

    /// <summary>What a concept says: its codings by code and system, published ones and our own, must agree.</summary>
    private (Meaning? Meaning, bool TwoMeanings) Read(int entry, CodeableConcept concept, CodeSet set, string? ownSystem, string path)
    {
        WarnOfNames(entry, concept, set, path);
        Meaning? found = null;
        foreach (var coding in concept.Coding)
        {
            var standard = FhirSystems.Find(set, coding);
            Meaning? one = standard is not null ? new(standard.Means, standard.Ear, standard.Reason)
                : ownSystem is not null && coding.System == ownSystem && coding.Code is { Length: <= 64 } own ? new(own, null, null) : null;
            if (one is null) continue;
            if (found is { } earlier && (earlier.Means != one.Value.Means
                || (earlier.Reason is { } r && one.Value.Reason is { } other && r != other))) return (null, true);
            found = found is { } kept ? kept with { Reason = kept.Reason ?? one.Value.Reason } : one;
        }

        return (found, false);
    }

    /// <summary>A value as it was stated, for the row that keeps it though it is refused.</summary>
    private static string? Stated(DataType? value) => value switch
    {
        CodeableConcept { Coding.Count: > 0 } concept =>
            string.Join(", ", concept.Coding.Select(c => string.IsNullOrEmpty(c.System) ? c.Code : $"{c.System}|{c.Code}")),
        CodeableConcept concept => concept.Text,
        Quantity q => string.Create(System.Globalization.CultureInfo.InvariantCulture, $"{q.Value} {q.Code ?? q.Unit}").Trim(),
        Integer { Value: { } number } => number.ToString(System.Globalization.CultureInfo.InvariantCulture),
        FhirString text => text.Value,
        _ => FhirTime.TextOf(value),
    };

    /// <summary>A name beside a code that is not the code's: the code was taken, but somebody should look.</summary>
    private void WarnOfNames(int entry, CodeableConcept concept, CodeSet set, string path)
    {
        foreach (var coding in concept.Coding)
        {
            if (coding.Display is not { Length: > 0 } name || FhirSystems.Find(set, coding) is not { Source: 'F' } code) continue;
            // A part of the published name will do; more words might say the opposite.
            if (!code.Display.Contains(name.Trim(), StringComparison.OrdinalIgnoreCase))
                _entries[entry].Remark(
                    FhirIssue.Warning(entry, $"{path}.coding", "the name beside the code is not the code's; the code was taken"));
        }
    }

    private ScreeningReason? ReasonOf(int entry, DataType? value, string path)
    {
        if (value is not CodeableConcept concept) return null;
        WarnOfNames(entry, concept, CodeSet.Outcome, path);
        foreach (var coding in concept.Coding)
        {
            if (FhirSystems.Find(CodeSet.Outcome, coding)?.Reason is { } reason) return reason;
            if (FhirSystems.Own<ScreeningReason>(FhirSystems.Reason, coding) is { } own and not ScreeningReason.None) return own;
        }

        if (path.EndsWith(".value", StringComparison.Ordinal)) Say(entry, path, "none of the known reasons: recorded as other");
        return null;
    }
}
