using Registry.Facts;
using Registry.Platform;
using Registry.Rules.Facts;

namespace Registry.Intake.Rows;

/// <summary>What a row says of a person of the family, and of who cares for the child.</summary>
internal readonly ref partial struct ReadFields
{
    public static Field[] OfFamilyContact =>
    [
        Field.Relation, Field.PersonName, Field.ContactPhone, Field.PhoneUse, Field.OtherPhone, Field.OtherPhoneUse, Field.ContactEmail,
        Field.Street, Field.City, Field.ResidenceState, Field.PostalCode, Field.Language, Field.InterpreterNeeded, Field.PreferredChannel,
        Field.PreferredHours, Field.HoldsCustody, Field.MayBeTold, Field.StatedOn,
    ];

    public static Field[] OfCare =>
        [Field.PrimaryCare, Field.PrimaryCarePhone, Field.PrimaryCareConfirmed, Field.Insurance, Field.StatedOn];

    public ReportedFamilyContact? FamilyContact()
    {
        var relation = RequiredCode<FamilyRelation>(Field.Relation);
        var contact = new ReportedFamilyContact(relation ?? default, Past(Field.StatedOn))
        {
            Name = String(Field.PersonName, 100),
            Phone = Phone(Field.ContactPhone),
            PhoneUse = UseOf(Field.PhoneUse, Field.ContactPhone),
            OtherPhone = Phone(Field.OtherPhone),
            OtherPhoneUse = UseOf(Field.OtherPhoneUse, Field.OtherPhone),
            Email = Email(),
            Street = String(Field.Street, 200),
            City = String(Field.City, 100),
            State = States.CodeOf(String(Field.ResidenceState, 40)),
            PostalCode = String(Field.PostalCode, 20),
            Language = Languages.CodeOf(String(Field.Language, 100)),
            InterpreterNeeded = Bool(Field.InterpreterNeeded),
            PreferredChannel = Code<ContactChannel>(Field.PreferredChannel),
            PreferredHours = String(Field.PreferredHours, 100),
            HoldsCustody = Bool(Field.HoldsCustody),
            MayBeTold = Bool(Field.MayBeTold),
        };
        if (contact.HoldsCustody is not null && (ReportedFamilyContact.MayBeSeveral(contact.Kind) || contact.Kind == FamilyRelation.Self))
            problems.Add(new(
                Field.HoldsCustody, "is of a parent, guardian, foster parent or agency: state who holds custody as one of them"));
        if (relation is null || problems.Count > 0) return null;
        if (contact.SaysSomething) return contact;
        problems.Add(new((string?)null, "says nothing of the person: a name, a telephone, an address or another column is needed"));
        return null;
    }

    public ReportedCare? Care()
    {
        var care = new ReportedCare(Past(Field.StatedOn))
        {
            PrimaryCare = String(Field.PrimaryCare, 100),
            PrimaryCarePhone = Phone(Field.PrimaryCarePhone),
            PrimaryCareConfirmed = Bool(Field.PrimaryCareConfirmed),
            Insurance = String(Field.Insurance, 100),
        };
        if (care is { PrimaryCareConfirmed: not null, PrimaryCare: null })
            problems.Add(new(Field.PrimaryCare, "is required with primary_care_confirmed"));
        if (problems.Count > 0) return null;
        if (care.SaysSomething) return care;
        problems.Add(new((string?)null, "says nothing: primary care or an insurance is needed"));
        return null;
    }

    private string? Phone(Field field)
    {
        var text = String(field, 40);
        if (text is null || text.Any(char.IsAsciiDigit)) return text;
        problems.Add(new(field, "is not a telephone number"));
        return null;
    }

    private PhoneUse? UseOf(Field field, Field phone)
    {
        var use = Code<PhoneUse>(field);
        if (use is not null && !IsStated(phone)) problems.Add(new(phone, $"is required with {Codes.Of(field)}"));
        return use;
    }
}

/// <summary>A person of the family and who cares for the child, the other way.</summary>
public static partial class FactAsRow
{
    internal static void Say(StatedColumns row, ReportedFamilyContact person)
    {
        row.Code<FamilyRelation>(Field.Relation, person.Kind);
        row.Day(Field.StatedOn, person.StatedOn);
        row.Text(Field.PersonName, person.Name);
        row.Text(Field.ContactPhone, person.Phone);
        row.Code(Field.PhoneUse, person.PhoneUse);
        row.Text(Field.OtherPhone, person.OtherPhone);
        row.Code(Field.OtherPhoneUse, person.OtherPhoneUse);
        row.Text(Field.ContactEmail, person.Email);
        row.Text(Field.Street, person.Street);
        row.Text(Field.City, person.City);
        row.Text(Field.ResidenceState, person.State);
        row.Text(Field.PostalCode, person.PostalCode);
        row.Text(Field.Language, person.Language);
        row.Bool(Field.InterpreterNeeded, person.InterpreterNeeded);
        row.Code(Field.PreferredChannel, person.PreferredChannel);
        row.Text(Field.PreferredHours, person.PreferredHours);
        row.Bool(Field.HoldsCustody, person.HoldsCustody);
        row.Bool(Field.MayBeTold, person.MayBeTold);
    }

    internal static void Say(StatedColumns row, ReportedCare care)
    {
        row.Day(Field.StatedOn, care.StatedOn);
        row.Text(Field.PrimaryCare, care.PrimaryCare);
        row.Text(Field.PrimaryCarePhone, care.PrimaryCarePhone);
        row.Bool(Field.PrimaryCareConfirmed, care.PrimaryCareConfirmed);
        row.Text(Field.Insurance, care.Insurance);
    }
}
