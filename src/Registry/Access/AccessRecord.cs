using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Access;

/// <summary>One read of a person's data: who, when, through which page or endpoint, and whose (or how many infants a list held).
/// Append-only: a trigger refuses update and delete.</summary>
public sealed class AccessRecord
{
    public long Id { get; init; }
    public DateTimeOffset At { get; init; }
    public Guid? PersonId { get; init; }
    public Guid? SiteKeyId { get; init; }

    /// <summary>The route pattern, never a URL with values.</summary>
    public required string Action { get; init; }
    public InfantId? InfantId { get; init; }
    public int InfantCount { get; init; }
}

internal sealed class ConfigureAccessRecord : IEntityTypeConfiguration<AccessRecord>
{
    public void Configure(EntityTypeBuilder<AccessRecord> builder)
    {
        builder.ToTable("access_records");
        builder.HasIndex(a => a.InfantId);
        builder.HasIndex(a => a.At);
    }
}

/// <summary>The slice's own tables of the one database.</summary>
public static class AccessTables
{
    extension(RegistryDb db)
    {
        public DbSet<AccessRecord> AccessRecords => db.Set<AccessRecord>();
        public DbSet<Session> Sessions => db.Set<Session>();
    }
}
