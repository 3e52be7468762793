using Microsoft.AspNetCore.Identity;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Platform.Encryption;
using Registry.Records;

namespace Registry.Access;

/// <summary>What a link opens.</summary>
public enum LinkPurpose
{
    /// <summary>The page that makes the first administrator.</summary>
    SetUp,

    /// <summary>The page where somebody chooses a password: invited, or asked to choose another.</summary>
    Password,
}

/// <summary>A link that opens one page, once, for some time. Only the SHA-256 of what is in it is kept.</summary>
public sealed class OneTimeLink
{
    public Guid Id { get; init; }
    public LinkPurpose Purpose { get; init; }
    public required byte[] TokenSha256 { get; init; }

    /// <summary>Whose it is; null for the first administrator's.</summary>
    public Guid? PersonId { get; init; }
    public DateTimeOffset MadeAt { get; init; }
    public Guid? MadeBy { get; init; }
    public DateTimeOffset EndsAt { get; init; }

    /// <summary>When it was used, or replaced by another: from then on it opens nothing.</summary>
    public DateTimeOffset? UsedAt { get; set; }
}

internal sealed class ConfigureOneTimeLink : IEntityTypeConfiguration<OneTimeLink>
{
    public void Configure(EntityTypeBuilder<OneTimeLink> builder)
    {
        builder.ToTable("one_time_links");
        builder.HasIndex(l => l.TokenSha256).IsUnique();
        builder.HasOne<Person>().WithMany().HasForeignKey(l => l.PersonId).OnDelete(DeleteBehavior.Restrict);
    }
}

/// <summary>What a second factor is checked with: encrypted like telephone numbers are, so that a copy of the database makes no
/// code.</summary>
internal sealed class ConfigurePersonToken : IEntityTypeConfiguration<IdentityUserToken<Guid>>
{
    internal const string Place = "person_tokens.value";

    public void Configure(EntityTypeBuilder<IdentityUserToken<Guid>> builder)
    {
        builder.ToTable("person_tokens");
        builder.Property(t => t.Value).HasConversion(
            text => FieldKeys.OfProcess.Encrypt(text, Place), stored => FieldKeys.OfProcess.Decrypt(stored, Place));
    }
}
