using Registry.Platform.Encryption;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Facts;

/// <summary>What was said of one person of the family. A later statement stands beside it and does not close it: of each thing the newest
/// that says it holds (<see cref="FamilyNow"/>), so that taking one back leaves what was known before.</summary>
/// <param name="StatedOn">Null: of the day it was recorded.</param>
public sealed record ReportedFamilyContact(FamilyRelation Kind, DateOnly? StatedOn) : ReportedFact<ReportedFamilyContact>
{
    public string? Name { get; init; }
    public string? Phone { get; init; }
    public PhoneUse? PhoneUse { get; init; }
    public string? OtherPhone { get; init; }
    public PhoneUse? OtherPhoneUse { get; init; }
    public string? Email { get; init; }
    public string? Street { get; init; }
    public string? City { get; init; }
    public string? PostalCode { get; init; }
    public string? State { get; init; }
    public string? Language { get; init; }
    public bool? InterpreterNeeded { get; init; }
    public ContactChannel? PreferredChannel { get; init; }
    public string? PreferredHours { get; init; }
    public bool? HoldsCustody { get; init; }
    public bool? MayBeTold { get; init; }

    public override DateOnly On => StatedOn ?? DateOnly.MaxValue;
    public override bool IsUndated => StatedOn is null;

    /// <summary>It says something of the person, not only who it is.</summary>
    public bool SaysSomething => this != new ReportedFamilyContact(Kind, StatedOn);

    public override bool Outdates(ReportedFact earlier) =>
        earlier is ReportedFamilyContact other && other.Kind == Kind && (!MayBeSeveral(Kind) || NameKey == other.NameKey);

    /// <summary>The name as names are compared.</summary>
    public string NameKey => NormaliseName.Of(Name) ?? "";

    /// <summary>A child has several of these, told apart by their names; of the others one at a time.</summary>
    public static bool MayBeSeveral(FamilyRelation kind) =>
        kind is FamilyRelation.Grandparent or FamilyRelation.OtherRelative or FamilyRelation.Other;

    protected override FactVerdict ComparedWith(ReportedFamilyContact recorded, bool sameSite, out ReportedFamilyContact result)
    {
        result = this;
        return sameSite && SaysTheSame(recorded) ? FactVerdict.Same : FactVerdict.New;
    }

    protected override bool IsAboutTheSameAs(ReportedFamilyContact recorded) => Kind == recorded.Kind && StatedOn == recorded.StatedOn;
    protected override bool TakesBack(ReportedFamilyContact recorded) => this == recorded;

    private bool SaysTheSame(ReportedFamilyContact recorded) => this == (IsUndated ? recorded with { StatedOn = null } : recorded);

    internal static FactKind Table()
    {
        var table = new FactTable<ReportedFamilyContact>(RowKind.FamilyContact, "family_contacts", day: "stated_on");
        table.OpensByOwnWord();
        var kind = table.Code("kind", f => f.Kind);
        var stated = table.Date("stated_on", f => f.StatedOn);
        var name = table.Secret("person_name", f => f.Name);
        var phone = table.Secret("contact_phone", f => f.Phone);
        var use = table.CodeOrNull("phone_use", f => f.PhoneUse);
        var other = table.Secret("other_phone", f => f.OtherPhone);
        var otherUse = table.CodeOrNull("other_phone_use", f => f.OtherPhoneUse);
        var email = table.Secret("contact_email", f => f.Email);
        var street = table.Secret("street", f => f.Street);
        var city = table.Secret("city", f => f.City);
        var postal = table.Secret("postal_code", f => f.PostalCode);
        var state = table.Text("residence_state", f => f.State);
        var language = table.Text("language", f => f.Language);
        var interpreter = table.Bool("interpreter_needed", f => f.InterpreterNeeded);
        var channel = table.CodeOrNull("preferred_channel", f => f.PreferredChannel);
        var hours = table.Secret("preferred_hours", f => f.PreferredHours);
        var custody = table.Bool("holds_custody", f => f.HoldsCustody);
        var told = table.Bool("may_be_told", f => f.MayBeTold);
        table.Key("contact_phone_key", f => FieldKeys.OfProcess.KeyOfPhone(f.Phone));
        table.Key("contact_email_key", f => FieldKeys.OfProcess.KeyOfEmail(f.Email));
        table.Key("other_phone_key", f => FieldKeys.OfProcess.KeyOfPhone(f.OtherPhone));
        table.ReadAs(r => new(kind[r], stated[r])
        {
            Name = name[r],
            Phone = phone[r],
            PhoneUse = use[r],
            OtherPhone = other[r],
            OtherPhoneUse = otherUse[r],
            Email = email[r],
            Street = street[r],
            City = city[r],
            PostalCode = postal[r],
            State = state[r],
            Language = language[r],
            InterpreterNeeded = interpreter[r],
            PreferredChannel = channel[r],
            PreferredHours = hours[r],
            HoldsCustody = custody[r],
            MayBeTold = told[r],
        });
        return table;
    }
}
