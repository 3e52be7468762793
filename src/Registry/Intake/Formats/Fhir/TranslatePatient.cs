using System.Globalization;
using Hl7.Fhir.Model;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>A Patient: a birth, and a death.</summary>
public sealed partial class TranslateBundle
{
    private void Birth(int entry, Patient patient)
    {
        var path = PathOf(entry);
        // Only who it is, when nothing says that it was born here: else an outpatient test would make a birth of the wrong site.
        var elsewhere = IsSeenAsOutpatient(entry);
        var row = elsewhere ? new FhirRow(entry) : Add(entry, RowKind.Birth);
        if (elsewhere) Say(entry, path, "says who it is; no birth is recorded, since its encounter is not inpatient");
        _births[$"#{entry}"] = row;
        if (patient.Active == false)
            row.Refuse($"{path}.active", "must not be false: what was said wrongly is taken back, not sent as inactive");
        Identifiers(row, entry, patient);
        Names(row, patient.Name, Field.InfantGivenName, Field.InfantFamilyName, $"{path}.name");
        BirthDate(row, patient, path);
        BirthTime(row, patient, path);
        SexOf(row, patient, path);
        MultipleBirth(row, patient, path);
        row.Set(Field.County, patient.Address.Find(a => a.District is not null)?.District, $"{path}.address.district");
        row.Set(Field.ResidenceState, patient.Address.Find(a => a.State is not null)?.State, $"{path}.address.state");
        Contact(row, patient.Telecom, $"{path}.telecom");
        var language = patient.Communication.Find(c => c.Preferred == true) ?? patient.Communication.FirstOrDefault();
        row.Set(Field.Language, language?.Language?.Coding.FirstOrDefault()?.Code ?? language?.Language?.Text, $"{path}.communication");
        Death(row, patient, path);
        OnlyIf(row, entry, patient);
    }

    private static void BirthDate(FhirRow row, Patient patient, string path)
    {
        row.Set(Field.BirthDate, patient.BirthDate, $"{path}.birthDate");
        if (patient.BirthDate is { Length: < 10 })
            row.Refuse(Field.BirthDate, $"{path}.birthDate", "must be a whole date", patient.BirthDate);
    }

    private void SexOf(FhirRow row, Patient patient, string path)
    {
        if (patient.Gender is AdministrativeGender.Other) Say(row.Entry, $"{path}.gender", "is recorded as unknown");
        row.Set(Field.Sex, Codes.Of(patient.Gender switch
        {
            AdministrativeGender.Female => Sex.Female,
            AdministrativeGender.Male => Sex.Male,
            _ => Sex.Unknown,
        }), $"{path}.gender");
    }

    /// <summary>The first of several says no more than that it is the first: the plurality is an observation of its own.</summary>
    private void MultipleBirth(FhirRow row, Patient patient, string path)
    {
        path = $"{path}.multipleBirth";
        switch (patient.MultipleBirth)
        {
            case Integer { Value: { } order }:
                row.Set(Field.BirthOrder, order.ToString(CultureInfo.InvariantCulture), path);
                break;
            case FhirBoolean { Value: false }:
                row.Set(Field.Plurality, "1", path);
                break;
            case FhirBoolean { Value: true }:
                Say(row.Entry, path, "says neither how many nor which: send multipleBirthInteger and the plurality (57722-1)");
                break;
        }
    }

    /// <summary>The Bundle holds encounters of this Patient, and none of them is an inpatient stay.</summary>
    private bool IsSeenAsOutpatient(int patient)
    {
        var own = Taken<Encounter>().Where(e => _find.EntryOf(e.Resource.Subject) == patient).ToList();
        return own.Count > 0 && !own.Exists(e => IsInpatient(e.Resource));
    }

    private static bool IsInpatient(Encounter encounter) => encounter.Class is { Code: "IMP" or "ACUTE" or "NONAC" or "OBSENC" };

    private void BirthTime(FhirRow row, Patient patient, string path)
    {
        if (patient.BirthDateElement?.GetExtensionValue<FhirDateTime>(FhirSystems.BirthTime)?.Value is not { } text) return;
        // As the hospital's clock showed it: the birth date is written by the same clock.
        if (text.Length >= 16 && text[..10] == patient.BirthDate) row.Set(Field.BirthTime, text[11..16], $"{path}.birthDate.extension");
        else row.Refuse(Field.BirthTime, $"{path}.birthDate.extension", "is not a time of the birth date");
    }

    private void Death(FhirRow birth, Patient patient, string path)
    {
        switch (patient.Deceased)
        {
            case FhirBoolean { Value: true }:
                // To drop a death would be to write to a bereaved family.
                birth.Refuse($"{path}.deceased", "a death needs its date: send deceasedDateTime");
                break;
            case FhirDateTime died:
                var row = Add(birth.Entry, RowKind.Death);
                _subjects[row] = new($"#{birth.Entry}", Entry: birth.Entry);
                if (FhirTime.Day(died.Value, _zone) is { } day) row.Set(Field.DiedOn, FhirTime.Iso(day), $"{path}.deceased");
                else row.Refuse(Field.DiedOn, $"{path}.deceased", "must be a whole date", died.Value);
                break;
        }
    }

    /// <summary>Which identifier is the site's record number: the one typed MR, else the only one without a type.</summary>
    private void Identifiers(FhirRow row, int entry, Patient patient)
    {
        var path = $"{PathOf(entry)}.identifier";
        foreach (var (identifier, kind) in Sorted(patient))
        {
            if (kind is not { } field)
            {
                Say(entry, path, "an identifier that is neither typed MR nor a card id is not recorded");
                continue;
            }

            if (row.Values.TryGetValue(field, out var earlier) && earlier != identifier.Value)
                row.Refuse(field, path, "is stated twice, differently");
            row.SetIfAbsent(field, identifier.Value, path);
        }
    }

    private static IEnumerable<(Identifier Identifier, Field? Kind)> Sorted(Patient patient)
    {
        var stated = patient.Identifier.Where(i => i.Value is not null
            && i.Use is not (Identifier.IdentifierUse.Old or Identifier.IdentifierUse.Temp)).ToList();
        var untyped = stated.Where(i => i.System != FhirSystems.CardId && i.Type is null).ToList();
        var typed = stated.Exists(IsRecordNumber);
        foreach (var identifier in stated)
        {
            yield return (identifier,
                identifier.System == FhirSystems.CardId ? Field.CardId
                : IsRecordNumber(identifier) || (!typed && untyped is [var only] && only == identifier) ? Field.RecordNumber : null);
        }

        static bool IsRecordNumber(Identifier identifier) =>
            identifier.Type?.Coding.Exists(c => c.System == FhirSystems.IdentifierType && c.Code == "MR") == true;
    }

    /// <summary>If-None-Exist: the identifiers it searches by must be the Patient's own.</summary>
    private void OnlyIf(FhirRow row, int entry, Patient patient)
    {
        if (_bundle.Entry[entry].Request?.IfNoneExist is not { } query) return;
        var path = $"Bundle.entry[{entry}].request.ifNoneExist";
        if (FindSubject.Search(query) is not { } asked)
        {
            row.Refuse(path, "must be a search by identifier: identifier=system|value");
            return;
        }

        var stated = Sorted(patient).ToList();
        foreach (var identifier in asked)
        {
            var own = stated.FindAll(s => s.Kind is not null && s.Identifier.Value == identifier.Value
                && (identifier.System is null || identifier.System == s.Identifier.System));
            if (own.Count == 0) row.Refuse(path, "names an identifier the Patient does not state as record number or card id");
            foreach (var (_, kind) in own) row.OnlyIfUnknown |= kind == Field.CardId ? OnlyIfUnknown.CardId : OnlyIfUnknown.RecordNumber;
        }
    }

    private static void Names(FhirRow row, List<HumanName> names, Field given, Field family, string path)
    {
        var name = names.Find(n => n.Use == HumanName.NameUse.Official) ?? names.Find(n => n.Use == HumanName.NameUse.Usual)
            ?? names.FirstOrDefault();
        row.Set(given, name is null ? null : string.Join(' ', name.Given), path);
        row.Set(family, name?.Family, path);
    }

    private static void Contact(FhirRow row, List<ContactPoint> points, string path)
    {
        foreach (var point in points.Where(p => p.Use != ContactPoint.ContactPointUse.Old).OrderBy(p => p.Rank ?? int.MaxValue))
        {
            if (point.System == ContactPoint.ContactPointSystem.Email) row.SetIfAbsent(Field.ContactEmail, point.Value, path);
            else if (point.System is ContactPoint.ContactPointSystem.Phone or ContactPoint.ContactPointSystem.Sms)
                row.SetIfAbsent(Field.ContactPhone, point.Value, path);
        }
    }
}
