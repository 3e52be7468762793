using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

/// <summary>
/// What a person may do. <c>Coordinator</c>: the program's staff, sees every infant of the region. <c>SiteManager</c>: sees
/// the infants and rates of one site. <c>Screener</c>: uploads for one site and sees its submissions and infants.
/// </summary>
public enum Role { Coordinator, SiteManager, Screener }

/// <summary>Someone who signs in. Families never do.</summary>
public sealed class Person : IdentityUser<Guid>
{
    public required string DisplayName { get; set; }
    public Role Role { get; set; }

    /// <summary>The site a manager or screener belongs to; null for coordinators.</summary>
    public SiteId? SiteId { get; set; }
}

/// <summary>People and what the library of identities keeps of them, under this house's names.</summary>
internal sealed class ConfigurePerson : IEntityTypeConfiguration<Person>
{
    public void Configure(EntityTypeBuilder<Person> builder)
    {
        builder.ToTable("people");
        builder.HasOne<Site>().WithMany().HasForeignKey(p => p.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigurePersonClaim : IEntityTypeConfiguration<IdentityUserClaim<Guid>>
{
    public void Configure(EntityTypeBuilder<IdentityUserClaim<Guid>> builder) => builder.ToTable("person_claims");
}

internal sealed class ConfigurePersonLogin : IEntityTypeConfiguration<IdentityUserLogin<Guid>>
{
    public void Configure(EntityTypeBuilder<IdentityUserLogin<Guid>> builder) => builder.ToTable("person_logins");
}

internal sealed class ConfigurePersonToken : IEntityTypeConfiguration<IdentityUserToken<Guid>>
{
    public void Configure(EntityTypeBuilder<IdentityUserToken<Guid>> builder) => builder.ToTable("person_tokens");
}
