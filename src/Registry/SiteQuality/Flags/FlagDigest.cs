using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.SiteQuality.Flags;

/// <summary>A weekly letter that left: one for each person, place and week.</summary>
public sealed class FlagDigest
{
    /// <summary>The Monday it was written on; it tells of the week before.</summary>
    public DateOnly Week { get; init; }
    public Guid PersonId { get; init; }

    /// <summary>The site it is about; null for a coordinator's, of the region.</summary>
    public SiteId? SiteId { get; init; }
    public Guid Id { get; init; }
    public DateTimeOffset SentAt { get; init; }
}

internal sealed class ConfigureFlagDigest : IEntityTypeConfiguration<FlagDigest>
{
    public void Configure(EntityTypeBuilder<FlagDigest> builder)
    {
        builder.ToTable("flag_digests");
        builder.HasIndex(d => new { d.Week, d.PersonId, d.SiteId }).IsUnique().AreNullsDistinct(false);
        builder.HasOne<Person>().WithMany().HasForeignKey(d => d.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(d => d.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}
