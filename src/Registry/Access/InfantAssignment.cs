using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Access;

/// <summary>An infant that was given to a case worker, by whom and until when: one case worker at a time.</summary>
public sealed class InfantAssignment
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }

    /// <summary>The case worker.</summary>
    public Guid PersonId { get; init; }
    public DateTimeOffset AssignedAt { get; init; }
    public Guid AssignedBy { get; init; }
    public DateTimeOffset? EndedAt { get; set; }
    public Guid? EndedBy { get; set; }
}

internal sealed class ConfigureInfantAssignment : IEntityTypeConfiguration<InfantAssignment>
{
    public void Configure(EntityTypeBuilder<InfantAssignment> builder)
    {
        builder.ToTable("infant_assignments");
        builder.HasIndex(a => a.InfantId).IsUnique().HasFilter("ended_at is null");
        builder.HasIndex(a => a.InfantId, "ix_infant_assignments_history");
        builder.HasIndex(a => a.PersonId).HasFilter("ended_at is null");
        builder.HasOne<Infant>().WithMany().HasForeignKey(a => a.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(a => a.PersonId).OnDelete(DeleteBehavior.Restrict);
    }
}
