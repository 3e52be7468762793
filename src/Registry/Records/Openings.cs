using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules.Facts;

namespace Registry.Records;

/// <summary>A time at which a clinic sees children, and how many may come. It says nothing of a person. Stated once; it ends when it is
/// withdrawn.</summary>
public sealed class ClinicOpening
{
    public Guid Id { get; init; }
    public SiteId SiteId { get; init; }

    /// <summary>What is done then.</summary>
    public PathStep Step { get; init; }
    public DateOnly OpensOn { get; init; }
    public TimeOnly StartsAt { get; init; }
    public int Minutes { get; init; }
    public int Capacity { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public Guid EnteredBy { get; init; }
    public DateTimeOffset? WithdrawnAt { get; set; }
    public Guid? WithdrawnBy { get; set; }
}

internal sealed class ConfigureClinicOpening : IEntityTypeConfiguration<ClinicOpening>
{
    public void Configure(EntityTypeBuilder<ClinicOpening> builder)
    {
        builder.ToTable("clinic_openings");
        // Stated twice, or loaded again, it is one.
        builder.HasIndex(o => new { o.SiteId, o.OpensOn, o.StartsAt, o.Step }).IsUnique().HasFilter("withdrawn_at is null");
        builder.HasOne<Site>().WithMany().HasForeignKey(o => o.SiteId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(o => o.EnteredBy).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(o => o.WithdrawnBy).OnDelete(DeleteBehavior.Restrict);
    }
}

/// <summary>An appointment was made in an opening. Whether it still takes a place follows from the appointment.</summary>
public sealed class BookedOpening
{
    public Guid AppointmentId { get; init; }
    public Guid OpeningId { get; init; }
    public InfantId InfantId { get; init; }
}

internal sealed class ConfigureBookedOpening : IEntityTypeConfiguration<BookedOpening>
{
    public void Configure(EntityTypeBuilder<BookedOpening> builder)
    {
        builder.ToTable("booked_openings");
        builder.HasKey(b => b.AppointmentId);
        builder.HasIndex(b => b.OpeningId);
        builder.HasIndex(b => b.InfantId);
        builder.HasOne<ClinicOpening>().WithMany().HasForeignKey(b => b.OpeningId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<AppointmentRecord>().WithMany().HasForeignKey(b => b.AppointmentId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Infant>().WithMany().HasForeignKey(b => b.InfantId).OnDelete(DeleteBehavior.Restrict);
    }
}
