using Hl7.Fhir.Model;
using Registry.Facts;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Formats.Fhir;

/// <summary>RelatedPerson, Patient.contact, Patient.address and telecom, Patient.generalPractitioner and Coverage: the people of the
/// family, where the child lives, who cares for it and who pays. What the birth has of the mother is not said twice.</summary>
public sealed partial class TranslateBundle
{
    /// <summary>Columns no element has.</summary>
    private static readonly Field[] BesideAPerson =
        [Field.InterpreterNeeded, Field.PreferredChannel, Field.PreferredHours, Field.HoldsCustody, Field.MayBeTold];

    private static readonly Field[] OfPerson =
    [
        Field.PersonName, Field.ContactPhone, Field.OtherPhone, Field.ContactEmail, Field.Street, Field.City, Field.PostalCode,
        Field.Language, .. BesideAPerson,
    ];

    private readonly HashSet<(string Subject, FamilyRelation Relation)> _relatives = [];

    /// <summary>A person of the family, by its relationship.</summary>
    private void Relative(int entry, RelatedPerson person)
    {
        var path = PathOf(entry);
        if (RelationOf(person.Relationship) is not { } relation)
        {
            Say(entry, $"{path}.relationship", "no code of a relationship that is recorded (RoleCode): this person is not recorded");
            return;
        }

        if (Subject(entry) is not { } subject) return;
        if (relation == FamilyRelation.Mother && subject.Identifier is null) Mother(entry, person);
        if (_rejected.Contains(entry)) return;
        var birth = relation == FamilyRelation.Mother && _births.TryGetValue(subject.Key, out var own) && own.Position >= 0 ? own : null;
        var row = Begin(entry, subject, relation);
        if (relation != FamilyRelation.Mother || subject.Identifier is not null)
            row.Set(Field.PersonName, NameOf(person.Name), $"{path}.name");
        Telephones(row, person.Telecom, $"{path}.telecom", birth);
        Address(row, person.Address, $"{path}.address");
        Speaks(row, person.Communication.Find(c => c.Preferred == true)?.Language ?? person.Communication.FirstOrDefault()?.Language,
            $"{path}.communication");
        Own(row, person, path, BesideAPerson);
        if (FhirTime.Day(person.Period?.Start, _zone) is { } day) row.Set(Field.StatedOn, FhirTime.Iso(day), $"{path}.period.start");
        Keep(row, subject, relation);
        if (_entries[entry].Rows.Count == 0) Say(entry, path, "says no more than who somebody is: nothing to record");
    }

    /// <summary>What a Patient says of its home, its contacts and its care, beside the birth.</summary>
    private void Family(int entry, Patient patient)
    {
        var (path, subject) = (PathOf(entry), new FhirSubject($"#{entry}", Entry: entry));
        var home = Begin(entry, subject, FamilyRelation.Self);
        Telephones(home, patient.Telecom, $"{path}.telecom", _births[subject.Key]);
        Address(home, patient.Address, $"{path}.address");
        Own(home, patient, path, Field.InterpreterNeeded);
        Keep(home, subject, FamilyRelation.Self);
        foreach (var (i, contact) in patient.Contact.Index())
        {
            var at = $"{path}.contact[{i}]";
            if ((RelationOf(contact.Relationship) ?? (contact.Organization is null ? null : FamilyRelation.Agency)) is not { } relation)
            {
                Say(entry, $"{at}.relationship", "no code of a relationship that is recorded (RoleCode): this person is not recorded");
                continue;
            }

            var row = Begin(entry, subject, relation);
            row.Set(Field.PersonName, NameOf([contact.Name]) ?? contact.Organization?.Display, $"{at}.name");
            Telephones(row, contact.Telecom, $"{at}.telecom", birth: null);
            Address(row, [contact.Address], $"{at}.address");
            Own(row, contact, at, BesideAPerson);
            Keep(row, subject, relation);
        }

        var care = new FhirRow(entry) { Position = _rows.Count };
        care.Set(Field.Kind, Codes.Of(RowKind.Care), path);
        care.Set(Field.PrimaryCare, patient.GeneralPractitioner.Find(g => g.Display is not null)?.Display,
            $"{path}.generalPractitioner");
        if (patient.GeneralPractitioner.Find(g => g.Display is not null) is { } provider)
            Own(care, provider, $"{path}.generalPractitioner", Field.PrimaryCareConfirmed, Field.PrimaryCarePhone);
        Keep(care, subject, [Field.PrimaryCare]);
    }

    private void Pays(int entry, Coverage coverage)
    {
        var path = PathOf(entry);
        if (coverage.Status != FinancialResourceStatusCodes.Active)
        {
            Say(entry, $"{path}.status", "only a coverage that is active is recorded");
            return;
        }

        if (Subject(entry) is not { } subject) return;
        var row = Add(entry, RowKind.Care);
        _subjects[row] = subject;
        var pays = coverage.Type?.Coding.FirstOrDefault()?.Display ?? coverage.Type?.Text ?? coverage.Type?.Coding.FirstOrDefault()?.Code
            ?? coverage.Payor.Find(p => p.Display is not null)?.Display;
        if (pays is null) row.Refuse($"{path}.type", "is required: who pays");
        row.Set(Field.Insurance, pays, $"{path}.type");
        if (FhirTime.Day(coverage.Period?.Start, _zone) is { } day) row.Set(Field.StatedOn, FhirTime.Iso(day), $"{path}.period.start");
    }

    private static FamilyRelation? RelationOf(IEnumerable<CodeableConcept> relationships)
    {
        var codings = relationships.SelectMany(r => r.Coding).ToList();
        var role = codings.Where(c => c.System == FhirSystems.RoleCode).Select(c => FamilyCodes.OfRole(c.Code))
            .FirstOrDefault(r => r is not null);
        return role ?? codings.Select(c => FhirSystems.Own<FamilyRelation>(FhirSystems.Relation, c)).FirstOrDefault(r => r is not null)
            ?? (codings.Find(c => c.System == FhirSystems.ContactRole)?.Code switch
            {
                "S" or "F" => FamilyRelation.Agency,
                "C" or "N" => FamilyRelation.Other, // emergency contact, next of kin: whoever it is
                _ => null,
            });
    }

    private static string? NameOf(IEnumerable<HumanName?> names) =>
        names.OfType<HumanName>().OrderByDescending(n => n.Use == HumanName.NameUse.Official).FirstOrDefault() is not { } name ? null
        : name.Text ?? $"{string.Join(' ', name.Given)} {name.Family}".Trim();

    /// <summary>The first two telephones and the first e-mail; those that a birth row has are not said again.</summary>
    private void Telephones(FhirRow row, List<ContactPoint> points, string path, FhirRow? birth)
    {
        var stated = points.Where(p => p.Use != ContactPoint.ContactPointUse.Old && p.Value is not null)
            .OrderBy(p => p.Rank ?? int.MaxValue).ToList();
        var phones = stated.FindAll(p => p.System is ContactPoint.ContactPointSystem.Phone or ContactPoint.ContactPointSystem.Sms);
        var said = phones.RemoveAll(p => p.Value == birth?.Values.GetValueOrDefault(Field.ContactPhone));
        var isMothers = said > 0 && row.Values[Field.Relation] == Codes.Of(FamilyRelation.Mother);
        (Field Phone, Field Use)[] places = isMothers ? [(Field.OtherPhone, Field.OtherPhoneUse)]
            : [(Field.ContactPhone, Field.PhoneUse), (Field.OtherPhone, Field.OtherPhoneUse)];
        foreach (var (point, (phone, use)) in phones.Zip(places))
        {
            row.Set(phone, point.Value, path);
            if (UseOf(point) is { } kind) row.Set(use, Codes.Of(kind), path);
        }

        if (phones.Count > places.Length) Say(row.Entry, path, "two telephones of a person are recorded, and not the others");
        var mail = stated.Find(p => p.System == ContactPoint.ContactPointSystem.Email)?.Value;
        if (mail != birth?.Values.GetValueOrDefault(Field.ContactEmail)) row.Set(Field.ContactEmail, mail, path);
    }

    private static PhoneUse? UseOf(ContactPoint point) => point.Use switch
    {
        ContactPoint.ContactPointUse.Mobile => PhoneUse.Mobile,
        ContactPoint.ContactPointUse.Home => PhoneUse.Home,
        ContactPoint.ContactPointUse.Work => PhoneUse.Work,
        _ => null,
    };

    private static void Address(FhirRow row, IEnumerable<Address?> addresses, string path)
    {
        var address = addresses.OfType<Address>().FirstOrDefault(a => a.Use != Hl7.Fhir.Model.Address.AddressUse.Old
            && (a.Line.Any() || a.City is not null || a.PostalCode is not null));
        if (address is null) return;
        row.Set(Field.Street, string.Join(' ', address.Line), $"{path}.line");
        row.Set(Field.City, address.City, $"{path}.city");
        row.Set(Field.PostalCode, address.PostalCode, $"{path}.postalCode");
        row.Set(Field.ResidenceState, address.State, $"{path}.state");
    }

    private static void Speaks(FhirRow row, CodeableConcept? language, string path) =>
        row.Set(Field.Language, language?.Coding.FirstOrDefault()?.Code ?? language?.Text, path);

    /// <summary>What no element has, by extensions of our own; and that of R4 for an interpreter.</summary>
    private static void Own(FhirRow row, IExtendable element, string path, params ReadOnlySpan<Field> columns)
    {
        foreach (var field in columns)
        {
            var stated = element.Extension.Find(e => e.Url == $"{FhirSystems.Field}:{Codes.Of(field)}"
                || (field == Field.InterpreterNeeded && e.Url == FhirSystems.Interpreter))?.Value;
            row.Set(field, stated switch
            {
                FhirBoolean truth => truth.Value == true ? "true" : "false",
                FhirString text => text.Value,
                Code code => code.Value,
                _ => null,
            }, $"{path}.extension");
        }
    }

    /// <summary>A row that is kept when it says something.</summary>
    private FhirRow Begin(int entry, FhirSubject subject, FamilyRelation relation)
    {
        var row = new FhirRow(entry) { Position = _rows.Count };
        row.Set(Field.Kind, Codes.Of(RowKind.FamilyContact), PathOf(entry));
        row.Set(Field.Relation, Codes.Of(relation), $"{PathOf(entry)}.relationship");
        _subjects[row] = subject;
        return row;
    }

    private void Keep(FhirRow row, FhirSubject subject, FamilyRelation relation)
    {
        if (!ReportedFamilyContact.MayBeSeveral(relation) && _relatives.Contains((subject.Key, relation)))
            Say(row.Entry, PathOf(row.Entry), "somebody before has this relationship: this person is not recorded");
        else if (Keep(row, subject, relation == FamilyRelation.Mother ? OfPerson[1..] : OfPerson)) _relatives.Add((subject.Key, relation));
    }

    private bool Keep(FhirRow row, FhirSubject subject, Field[] any)
    {
        if (!any.Any(row.Values.ContainsKey)) return false;
        _subjects[row] = subject;
        _entries[row.Entry].Rows.Add(row.Position);
        _rows.Add(row);
        return true;
    }
}
