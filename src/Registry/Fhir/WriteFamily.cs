using Hl7.Fhir.Model;
using Registry.Facts;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Rows;
using Registry.Rules.Facts;

namespace Registry.Fhir;

/// <summary>What was said of the family and of care, a resource a statement, as it is taken in again: codes of RoleCode, and extensions of
/// our own for what no element has.</summary>
internal static class WriteFamily
{
    public static RelatedPerson Person(string id, ResourceReference infant, ReportedFamilyContact said)
    {
        var person = new RelatedPerson
        {
            Id = id,
            Patient = infant,
            Relationship = [FamilyCodes.RoleOf(said.Kind) is { } role
                ? new(FhirSystems.RoleCode, role) : new(FhirSystems.Relation, Codes.Of(said.Kind))],
            Name = said.Name is { } name ? [new() { Text = name }] : [],
            Telecom = [.. Telecom(said)],
            Period = Since(said.StatedOn),
        };
        if ((said.Street ?? said.City ?? said.PostalCode ?? said.State) is not null)
            person.Address.Add(new()
            {
                Line = said.Street is { } street ? [street] : [],
                City = said.City,
                State = said.State,
                PostalCode = said.PostalCode,
            });
        if (said.Language is { } language) person.Communication.Add(new() { Language = new() { Text = language } });
        Say(person, Field.InterpreterNeeded, said.InterpreterNeeded);
        Say(person, Field.HoldsCustody, said.HoldsCustody);
        Say(person, Field.MayBeTold, said.MayBeTold);
        Say(person, Field.PreferredChannel, said.PreferredChannel is { } channel ? Codes.Of(channel) : null);
        Say(person, Field.PreferredHours, said.PreferredHours);
        return person;
    }

    /// <summary>Who pays; null when nothing was said of it.</summary>
    public static Coverage? Coverage(string id, ResourceReference infant, ReportedCare said) => said.Insurance is not { } pays ? null
        : new()
        {
            Id = id,
            Status = FinancialResourceStatusCodes.Active,
            Type = new() { Text = pays },
            Beneficiary = infant,
            Payor = [new() { Display = pays }],
            Period = Since(said.StatedOn),
        };

    /// <summary>The provider of the last statement that names one; null without.</summary>
    public static ResourceReference? Provider(IEnumerable<RecordedFact> facts)
    {
        var care = FamilyNow.Of(facts.Where(f => f.Fact is ReportedCare).Select(f => (f.Fact, f.RecordedAt))).Care;
        if (care.PrimaryCare is not { } name) return null;
        var provider = new ResourceReference { Display = name };
        Say(provider, Field.PrimaryCareConfirmed, care.PrimaryCareConfirmed);
        Say(provider, Field.PrimaryCarePhone, care.PrimaryCarePhone);
        return provider;
    }

    private static IEnumerable<ContactPoint> Telecom(ReportedFamilyContact said)
    {
        foreach (var (number, use) in new[] { (said.Phone, said.PhoneUse), (said.OtherPhone, said.OtherPhoneUse) })
            if (number is not null) yield return new(ContactPoint.ContactPointSystem.Phone, UseOf(use), number);
        if (said.Email is { } email) yield return new(ContactPoint.ContactPointSystem.Email, null, email);
    }

    private static ContactPoint.ContactPointUse? UseOf(PhoneUse? use) => use switch
    {
        PhoneUse.Mobile => ContactPoint.ContactPointUse.Mobile,
        PhoneUse.Home => ContactPoint.ContactPointUse.Home,
        PhoneUse.Work => ContactPoint.ContactPointUse.Work,
        _ => null,
    };

    private static Period? Since(DateOnly? day) => day is { } on ? new() { Start = FhirTime.Iso(on) } : null;

    private static void Say(IExtendable element, Field field, bool? value)
    {
        if (value is { } truth) element.AddExtension($"{FhirSystems.Field}:{Codes.Of(field)}", new FhirBoolean(truth));
    }

    private static void Say(IExtendable element, Field field, string? value)
    {
        if (value is not null) element.AddExtension($"{FhirSystems.Field}:{Codes.Of(field)}", new FhirString(value));
    }
}
