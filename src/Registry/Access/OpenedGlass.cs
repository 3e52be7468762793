using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Access;

/// <summary>Why somebody opens a record that is not shown to them.</summary>
public enum GlassReason
{
    /// <summary>The child is with them now, for a test or care.</summary>
    InfantIsHere,

    /// <summary>The family asks them for a result or the next step.</summary>
    FamilyAsks,

    /// <summary>Care is being handed over to them and no transfer was reported yet.</summary>
    CareHandedOver,

    /// <summary>Something else, in their own words.</summary>
    Other,
}

/// <summary>A record somebody opened who is not shown it otherwise: breaking the glass. It closes by itself, or a coordinator closes
/// it.</summary>
public sealed class OpenedGlass
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public Guid PersonId { get; init; }

    /// <summary>As what, and where: it opens nothing for the same person elsewhere.</summary>
    public Role Role { get; init; }
    public SiteId? SiteId { get; init; }
    public GlassReason Reason { get; init; }

    /// <summary>In their own words, encrypted: it may say who somebody is.</summary>
    public required string Words { get; init; }
    public DateTimeOffset OpenedAt { get; init; }
    public DateTimeOffset EndsAt { get; init; }
    public DateTimeOffset? EndedAt { get; set; }
    public Guid? EndedBy { get; set; }

    /// <summary>When the coordinators were written to.</summary>
    public DateTimeOffset? ToldAt { get; set; }
}

internal sealed class ConfigureOpenedGlass : IEntityTypeConfiguration<OpenedGlass>
{
    public void Configure(EntityTypeBuilder<OpenedGlass> builder)
    {
        builder.ToTable("opened_glasses");
        builder.HasIndex(g => new { g.PersonId, g.EndsAt }).HasFilter("ended_at is null");
        builder.HasIndex(g => g.InfantId);
        builder.HasIndex(g => g.OpenedAt);
        builder.HasOne<Infant>().WithMany().HasForeignKey(g => g.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(g => g.PersonId).OnDelete(DeleteBehavior.Restrict);
    }
}
