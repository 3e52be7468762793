using Microsoft.AspNetCore.DataProtection.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Access;

/// <summary>One signed-in browser of one person. The browser holds a random token; only its SHA-256 is kept, so that who reads the
/// database cannot come in.</summary>
public sealed class Session
{
    /// <summary>Names the session on a page; opens nothing.</summary>
    public Guid Id { get; init; }
    public required byte[] TokenSha256 { get; init; }
    public Guid PersonId { get; init; }
    public DateTimeOffset OpenedAt { get; init; }

    /// <summary>Its last request, to the minute.</summary>
    public DateTimeOffset SeenAt { get; set; }
    public DateTimeOffset? EndedAt { get; set; }

    /// <summary>When the second factor was shown; until then a session of somebody who has one opens the page that asks for it.</summary>
    public DateTimeOffset? SecondFactorAt { get; set; }

    /// <summary>Which of the person's places it works in; null: the first.</summary>
    public Guid? PlaceId { get; set; }

    /// <summary>Where it was opened from, so that its owner can tell it.</summary>
    public string? Address { get; init; }
    public string? Browser { get; init; }
}

internal sealed class ConfigureSession : IEntityTypeConfiguration<Session>
{
    public void Configure(EntityTypeBuilder<Session> builder)
    {
        builder.ToTable("sessions");
        builder.HasIndex(s => s.TokenSha256).IsUnique();
        builder.HasIndex(s => new { s.PersonId, s.OpenedAt });
        builder.HasOne<Person>().WithMany().HasForeignKey(s => s.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<PersonPlace>().WithMany().HasForeignKey(s => s.PlaceId).OnDelete(DeleteBehavior.SetNull);
    }
}

/// <summary>The keys that protect forms, in the database, so that every node has the same and no other installation has them.</summary>
internal sealed class ConfigureKeyRing : IEntityTypeConfiguration<DataProtectionKey>
{
    public void Configure(EntityTypeBuilder<DataProtectionKey> builder)
    {
        builder.ToTable("form_keys");
        builder.Property(k => k.FriendlyName).HasColumnName("name");
        builder.Property(k => k.Xml).HasColumnName("content");
    }
}
