using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.SiteQuality.Monthly;

/// <summary>A manager wants word of the own site's report each month, until it is ended.</summary>
public sealed class SiteReportWish
{
    public Guid Id { get; init; }
    public Guid PersonId { get; init; }
    public SiteId SiteId { get; init; }
    public DateTimeOffset WantedAt { get; init; }
    public DateTimeOffset? EndedAt { get; set; }
}

/// <summary>A monthly letter that left: one for each person, site and month.</summary>
public sealed class SiteReportLetter
{
    public Guid Id { get; init; }

    /// <summary>The first day of the month it tells of.</summary>
    public DateOnly Month { get; init; }
    public Guid PersonId { get; init; }
    public SiteId SiteId { get; init; }
    public DateTimeOffset SentAt { get; init; }
}

internal sealed class ConfigureSiteReportWish : IEntityTypeConfiguration<SiteReportWish>
{
    public void Configure(EntityTypeBuilder<SiteReportWish> builder)
    {
        builder.ToTable("site_report_wishes");
        builder.HasIndex(w => new { w.PersonId, w.SiteId }).IsUnique().HasFilter("ended_at is null");
        builder.HasOne<Person>().WithMany().HasForeignKey(w => w.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(w => w.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureSiteReportLetter : IEntityTypeConfiguration<SiteReportLetter>
{
    public void Configure(EntityTypeBuilder<SiteReportLetter> builder)
    {
        builder.ToTable("site_report_letters");
        builder.HasIndex(l => new { l.Month, l.PersonId, l.SiteId }).IsUnique();
        builder.HasOne<Person>().WithMany().HasForeignKey(l => l.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(l => l.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}
