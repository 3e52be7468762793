using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules;
using Registry.Rules.Work;

namespace Registry.Records;

/// <summary>Where an infant stands in the work of following up (<see cref="SortWork"/>): derived, kept beside the status and written with
/// it. Infants about whom nothing is due have no row.</summary>
public sealed class InfantWork
{
    public InfantId InfantId { get; init; }
    public WorkTray Tray { get; init; }
    public DueStep Step { get; init; }
    public DateOnly DueOn { get; init; }
    public long Rank { get; init; }

    /// <summary>Why it stands there, as JSON.</summary>
    public required string Reasons { get; init; }

    /// <summary>Who owns the next step.</summary>
    public SiteId ResponsibleSiteId { get; init; }

    /// <summary>The key by which the infant is shown to case workers of its county (<c>infant_shown</c>).</summary>
    public string? CountyKey { get; init; }
    public DateOnly? ChangesOn { get; init; }
}

internal sealed class ConfigureInfantWork : IEntityTypeConfiguration<InfantWork>
{
    public void Configure(EntityTypeBuilder<InfantWork> builder)
    {
        builder.ToTable("infant_work");
        builder.HasKey(w => w.InfantId);
        builder.Property(w => w.Reasons).HasColumnType("jsonb");
        builder.HasIndex(w => new { w.Tray, w.Rank, w.InfantId });
        builder.HasIndex(w => new { w.ResponsibleSiteId, w.Tray, w.Rank, w.InfantId }, "ix_infant_work_of_site");
        builder.HasIndex(w => new { w.CountyKey, w.Tray, w.Rank, w.InfantId }, "ix_infant_work_of_county");
        builder.HasIndex(w => w.ChangesOn);
    }
}

/// <summary>Some infants with the same work: of a site that owns the next step, of a county, or of the region. A place is what its rows add
/// up to: who writes work adds rows, and a job puts them together.</summary>
public sealed class WorkCount
{
    /// <summary>Null: of a county, or, when there is none either, of the whole region.</summary>
    public SiteId? ResponsibleSiteId { get; init; }
    public string? CountyKey { get; init; }
    public WorkTray Tray { get; init; }
    public DueStep Step { get; init; }

    /// <summary>Fewer, when negative.</summary>
    public int Infants { get; init; }
}

internal sealed class ConfigureWorkCount : IEntityTypeConfiguration<WorkCount>
{
    public void Configure(EntityTypeBuilder<WorkCount> builder)
    {
        builder.ToTable("work_counts").HasNoKey();
        builder.HasIndex(c => new { c.ResponsibleSiteId, c.CountyKey });
        builder.HasIndex(c => c.CountyKey);
    }
}

/// <summary>Somebody decided not to call before a day. The latest that was not ended holds.</summary>
public sealed class WorkPutOff
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public DateOnly UntilOn { get; init; }
    public PutOffReason Reason { get; init; }
    public Guid DecidedBy { get; init; }
    public DateTimeOffset DecidedAt { get; init; }
    public DateTimeOffset? EndedAt { get; set; }
}

internal sealed class ConfigureWorkPutOff : IEntityTypeConfiguration<WorkPutOff>
{
    public void Configure(EntityTypeBuilder<WorkPutOff> builder)
    {
        builder.ToTable("work_put_off");
        builder.HasIndex(p => p.InfantId).IsUnique().HasFilter("ended_at is null");
        builder.HasOne<Infant>().WithMany().HasForeignKey(p => p.InfantId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Person>().WithMany().HasForeignKey(p => p.DecidedBy).OnDelete(DeleteBehavior.Restrict);
    }
}
