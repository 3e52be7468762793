using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.SiteQuality.Monthly;

/// <summary>A manager wants word of the own site's report each month, until it is ended.</summary>
public sealed class SiteReportRequest
{
    public Guid Id { get; init; }
    public Guid PersonId { get; init; }
    public SiteId SiteId { get; init; }
    public DateTimeOffset RequestedAt { get; init; }
    public DateTimeOffset? EndedAt { get; set; }
}

/// <summary>A monthly letter that left: one for each person, site and month.</summary>
public sealed class SiteReportMail
{
    public Guid Id { get; init; }

    /// <summary>The first day of the month it tells of.</summary>
    public DateOnly Month { get; init; }
    public Guid PersonId { get; init; }
    public SiteId SiteId { get; init; }
    public DateTimeOffset SentAt { get; init; }
}

internal sealed class ConfigureSiteReportRequest : IEntityTypeConfiguration<SiteReportRequest>
{
    public void Configure(EntityTypeBuilder<SiteReportRequest> builder)
    {
        builder.ToTable("site_report_requests");
        builder.HasIndex(w => new { w.PersonId, w.SiteId }).IsUnique().HasFilter("ended_at is null");
        builder.HasOne<Person>().WithMany().HasForeignKey(w => w.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(w => w.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureSiteReportMail : IEntityTypeConfiguration<SiteReportMail>
{
    public void Configure(EntityTypeBuilder<SiteReportMail> builder)
    {
        builder.ToTable("site_report_mails");
        builder.HasIndex(l => new { l.Month, l.PersonId, l.SiteId }).IsUnique();
        builder.HasOne<Person>().WithMany().HasForeignKey(l => l.PersonId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<Site>().WithMany().HasForeignKey(l => l.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}
