using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

/// <summary>A version of the program's policy: data, effective-dated, never edited once in force.</summary>
public sealed class PolicyRecord
{
    public required string Version { get; init; }
    public DateOnly EffectiveFrom { get; init; }
    public required string Document { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public Guid? RecordedBy { get; init; }

    /// <summary>Taken back before its first day: it was never in force.</summary>
    public DateTimeOffset? WithdrawnAt { get; set; }
    public Guid? WithdrawnBy { get; set; }
}

internal sealed class ConfigurePolicy : IEntityTypeConfiguration<PolicyRecord>
{
    public void Configure(EntityTypeBuilder<PolicyRecord> builder)
    {
        builder.ToTable("policies");
        builder.HasKey(p => p.Version);
        builder.Property(p => p.Document).HasColumnType("jsonb");
    }
}
