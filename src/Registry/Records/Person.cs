using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

/// <summary>
/// What a person may do; the table is <c>Access/Permissions</c>. <c>Administrator</c>: people, keys, jobs, and no infant.
/// <c>Coordinator</c>: the program's staff, sees every infant of the region. <c>Auditor</c>: who looked at what, and no infant.
/// <c>SiteManager</c>: sees the infants and rates of one site. <c>Screener</c>: uploads for one site and sees its submissions and infants;
/// <c>AudiologyClinic</c>, <c>InterventionProgram</c> and <c>VitalRecords</c> do the same for a place of that kind.
/// <c>CaseWorker</c>: sees the infants of some counties and those assigned to them. <c>Epidemiologist</c>: counts and the de-identified
/// extract, and no infant.
/// </summary>
public enum Role
{
    Administrator, Coordinator, Auditor, SiteManager, Screener, AudiologyClinic, InterventionProgram, VitalRecords, CaseWorker,
    Epidemiologist,
}

/// <summary>Someone who signs in. Families never do.</summary>
public sealed class Person : IdentityUser<Guid>
{
    public required string DisplayName { get; set; }
    public Role Role { get; set; }

    /// <summary>The site a manager or screener belongs to; null for the program's own people.</summary>
    public SiteId? SiteId { get; set; }

    /// <summary>Case workers: whose infants they see, beside those assigned to them.</summary>
    public string[] Counties { get; set; } = [];

    /// <summary>Since when this person gets in no more; what they did stays theirs.</summary>
    public DateTimeOffset? DisabledAt { get; set; }

    /// <summary>The password is one that was given: nothing opens before it is changed, and not after this moment.</summary>
    public DateTimeOffset? GivenPasswordUntil { get; set; }

    /// <summary>The last time step a code of the second factor was taken for: none is taken twice (RFC 6238, 5.2).</summary>
    public long? LastCodeStep { get; set; }

    /// <summary>Of the demonstration, whose password is public: gets in only while the demonstration is on.</summary>
    public bool Demonstration { get; set; }
}

/// <summary>People and what the library of identities keeps of them, under this house's names.</summary>
internal sealed class ConfigurePerson : IEntityTypeConfiguration<Person>
{
    public void Configure(EntityTypeBuilder<Person> builder)
    {
        builder.ToTable("people");
        builder.Property(p => p.Demonstration).HasDefaultValue(false);
        builder.Property(p => p.Counties).HasDefaultValueSql("'{}'");
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

/// <summary>As the library's newest version of its tables has them; the other tables stay as they are.</summary>
internal sealed class ConfigurePersonPasskey : IEntityTypeConfiguration<IdentityUserPasskey<Guid>>
{
    public void Configure(EntityTypeBuilder<IdentityUserPasskey<Guid>> builder)
    {
        builder.ToTable("person_passkeys");
        builder.HasKey(p => p.CredentialId);
        builder.Property(p => p.CredentialId).HasMaxLength(1024);
        builder.OwnsOne(p => p.Data).ToJson("data");
        builder.HasOne<Person>().WithMany().HasForeignKey(p => p.UserId).OnDelete(DeleteBehavior.Restrict);
    }
}

/// <summary>One more role of a person, at a site or for the program, beside the one on <see cref="Person"/>. In each session they work in
/// one of them: what they see and do is what that one permits.</summary>
public sealed class PersonPlace
{
    public Guid Id { get; init; }
    public Guid PersonId { get; init; }
    public Role Role { get; init; }
    public SiteId? SiteId { get; init; }
    public string[] Counties { get; init; } = [];
    public DateTimeOffset Since { get; init; }
}

internal sealed class ConfigurePersonPlace : IEntityTypeConfiguration<PersonPlace>
{
    public void Configure(EntityTypeBuilder<PersonPlace> builder)
    {
        builder.ToTable("person_places");
        builder.Property(p => p.Counties).HasDefaultValueSql("'{}'");
        builder.HasIndex(p => new { p.PersonId, p.Role, p.SiteId }).IsUnique().AreNullsDistinct(false);
        builder.HasOne<Person>().WithMany().HasForeignKey(p => p.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(p => p.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}
