using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Erasure;

/// <summary>Why a person's values are to be removed.</summary>
public enum ErasureReason
{
    /// <summary>The time the program's policy keeps them is over.</summary>
    RetentionEnded,

    /// <summary>The family asked for it, and the law of the program grants it.</summary>
    FamilyAsked,

    /// <summary>They should never have been recorded here.</summary>
    RecordedInError,
}

public enum ErasureDecision { Erased, Refused }

/// <summary>One person asked that an infant's values be removed; another looks at it and does it, or refuses. Kept for good: it holds
/// no value of anybody.</summary>
public sealed class ErasureRequest
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public ErasureReason Reason { get; init; }
    public DateTimeOffset AskedAt { get; init; }
    public Guid AskedBy { get; init; }

    /// <summary>Null while it waits.</summary>
    public ErasureDecision? Decision { get; set; }
    public DateTimeOffset? DecidedAt { get; set; }
    public Guid? DecidedBy { get; set; }
}

internal sealed class ConfigureErasureRequest : IEntityTypeConfiguration<ErasureRequest>
{
    public void Configure(EntityTypeBuilder<ErasureRequest> builder)
    {
        builder.ToTable("erasure_requests");
        builder.HasIndex(e => e.InfantId).IsUnique().HasFilter("decision is null");
        builder.HasOne<Infant>().WithMany().HasForeignKey(e => e.InfantId).OnDelete(DeleteBehavior.Restrict);
    }
}

/// <summary>The slice's own table of the one database.</summary>
public static class ErasureTables
{
    extension(RegistryDb db)
    {
        public DbSet<ErasureRequest> ErasureRequests => db.Set<ErasureRequest>();
    }
}
