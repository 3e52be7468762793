using System.Globalization;
using Hl7.Fhir.Model;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>What a result says beside its value: instrument, probe, components.</summary>
public sealed partial class TranslateBundle
{
    /// <summary>A device with a parent is a probe of that instrument.</summary>
    private void Instrument(FhirRow row, Observation observation, string path)
    {
        if (observation.Device is not { } reference) return;
        if (_find.Resource<Device>(reference) is not { } device)
        {
            row.Set(Field.Instrument, reference.Identifier?.Value ?? reference.Display, $"{path}.device");
            return;
        }

        if (device.Parent is null) row.Set(Field.Instrument, NumberOf(device), $"{path}.device");
        else
        {
            row.Set(Field.Probe, NumberOf(device), $"{path}.device");
            row.Set(Field.Instrument, _find.Resource<Device>(device.Parent) is { } parent ? NumberOf(
                parent) : device.Parent.Identifier?.Value ?? device.Parent.Display, $"{path}.device");
        }

        static string? NumberOf(Device device) =>
            device.SerialNumber ?? device.Identifier.FirstOrDefault()?.Value ?? device.DistinctIdentifier
                ?? device.DeviceName.FirstOrDefault()?.Name;
    }

    private void Component(FhirRow row, Seen seen, Observation.ComponentComponent component, string path)
    {
        if (component.Code.Coding.Select(c => FhirSystems.Own<Field>(FhirSystems.Field, c)).FirstOrDefault(f => f is not null) is { } field)
        {
            OwnComponent(row, seen, component, field, path);
            return;
        }

        var code = component.Code.Coding.Select(c => FhirSystems.Find(CodeSet.Observation, c)).FirstOrDefault(c => c is not null);
        if (code?.Ear is { } ear && ear != seen.Code.Ear)
            row.Refuse(Field.Ear, $"{path}.code", "contradicts the ear of the observation",
                $"{Codes.Of(seen.Code.Ear!.Value)}, {Codes.Of(ear)}");
        switch (code?.Means)
        {
            case "reason":
                if (ReasonOf(seen.Entry, component.Value, $"{path}.value") is { } reason) SetReason(row, reason, $"{path}.value");
                break;
            case "method":
                if (component.Value is CodeableConcept method) SetMethod(row, seen.Entry, method, $"{path}.value");
                break;
            case "duration":
                Duration(row, component.Value, $"{path}.value");
                break;
            default:
                Say(seen.Entry, path, "is not recorded");
                break;
        }
    }

    /// <summary>Our own column as a component, for what no terminology has a code.</summary>
    private void OwnComponent(FhirRow row, Seen seen, Observation.ComponentComponent component, Field field, string path)
    {
        if (!CheckRow.FieldsOf(RowKind.Screening).Contains(field) || field is Field.Ear or Field.Outcome or Field.PerformedAt)
        {
            Say(seen.Entry, path, "is not a column of a screening");
            return;
        }

        row.Set(field, ValueOf(component), $"{path}.value");
    }

    /// <summary>What a component states in one of our columns.</summary>
    private static string? ValueOf(Observation.ComponentComponent component) => component.Value switch
    {
        Quantity { Value: { } value } => value.ToString(CultureInfo.InvariantCulture),
        Integer { Value: { } value } => value.ToString(CultureInfo.InvariantCulture),
        FhirBoolean { Value: { } value } => value ? "true" : "false",
        FhirDateTime date => date.Value,
        FhirString text => text.Value,
        CodeableConcept concept => concept.Coding.FirstOrDefault()?.Code ?? concept.Text,
        _ => null,
    };

    private static void Duration(FhirRow row, DataType? value, string path)
    {
        decimal? factor = value is Quantity q ? (q.Code ?? q.Unit) switch { "s" => 1, "min" => 60, "ms" => 0.001m, _ => null } : null;
        if (factor is { } f && value is Quantity { Value: { } number } && number is >= 0 and <= 1_000_000)
            row.Set(Field.DurationSeconds, decimal.Round(number * f, 2).ToString("0.##", CultureInfo.InvariantCulture), path);
        else row.Refuse(Field.DurationSeconds, path, "is not a quantity in s, min or ms (UCUM)", Stated(value));
    }
}
