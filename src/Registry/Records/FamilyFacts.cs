using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules.Facts;

namespace Registry.Records;

/// <summary>What was stated of one person of the family, or of where the child lives. What it leaves out it says nothing of.</summary>
public sealed class FamilyContactRecord : Fact
{
    /// <summary>Null: nobody said of which day it is; then it is of the day it was recorded.</summary>
    public DateOnly? StatedOn { get; init; }

    /// <summary>Who it is to the infant.</summary>
    public FamilyRelation Kind { get; init; }

    /// <summary>All text that says who or where somebody is is encrypted; the keys are what telephone numbers are found by.</summary>
    public string? PersonName { get; init; }
    public string? ContactPhone { get; init; }
    public PhoneUse? PhoneUse { get; init; }
    public string? OtherPhone { get; init; }
    public PhoneUse? OtherPhoneUse { get; init; }
    public string? ContactPhoneKey { get; init; }
    public string? OtherPhoneKey { get; init; }
    public string? ContactEmail { get; init; }

    /// <summary>What letters to one address are told by (<c>Outreach/NewestAddress.sql</c>).</summary>
    public string? ContactEmailKey { get; init; }
    public string? Street { get; init; }
    public string? City { get; init; }
    public string? PostalCode { get; init; }
    public string? ResidenceState { get; init; }

    /// <summary>A code of ISO 639 where it is one.</summary>
    public string? Language { get; init; }
    public bool? InterpreterNeeded { get; init; }
    public ContactChannel? PreferredChannel { get; init; }
    public string? PreferredHours { get; init; }

    /// <summary>Decides for the child.</summary>
    public bool? HoldsCustody { get; init; }

    /// <summary>May be told of the child's hearing; false: must not be.</summary>
    public bool? MayBeTold { get; init; }
}

internal sealed class ConfigureFamilyContact() : ConfigureFact<FamilyContactRecord>("family_contacts")
{
    public override void Configure(EntityTypeBuilder<FamilyContactRecord> builder)
    {
        base.Configure(builder);
        builder.HasIndex(f => f.ContactPhoneKey).HasFilter($"{Current} and contact_phone_key is not null");
        builder.HasIndex(f => f.OtherPhoneKey).HasFilter($"{Current} and other_phone_key is not null");
    }
}

/// <summary>Who cares for the child's health, and who pays.</summary>
public sealed class CareRecord : Fact
{
    /// <inheritdoc cref="FamilyContactRecord.StatedOn"/>
    public DateOnly? StatedOn { get; init; }

    /// <summary>Encrypted, as its telephone.</summary>
    public string? PrimaryCare { get; init; }
    public string? PrimaryCarePhone { get; init; }

    /// <summary>The provider, or the family, said so when asked.</summary>
    public bool? PrimaryCareConfirmed { get; init; }
    public string? Insurance { get; init; }
}

internal sealed class ConfigureCare() : ConfigureFact<CareRecord>("care");
