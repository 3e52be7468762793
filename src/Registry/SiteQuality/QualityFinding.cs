using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.SiteQuality;

public enum QualitySubject { Site, Instrument, Probe }

public enum QualityMeasure { Refer, Invalid }

/// <summary>A site, or an instrument or probe of a site, whose rate was higher than chance explains: since when, with what evidence,
/// and when it stopped. Rates are of the ninety days up to <see cref="AsOf"/>.</summary>
public sealed class QualityFinding
{
    public Guid Id { get; init; }
    public SiteId SiteId { get; init; }
    public QualitySubject Subject { get; init; }

    /// <summary>Serial or name of the instrument or probe; empty for the site itself.</summary>
    public required string Name { get; init; }
    public QualityMeasure Measure { get; init; }
    public DateOnly FoundOn { get; init; }
    public DateOnly AsOf { get; set; }
    public DateOnly? ResolvedOn { get; set; }
    public int Numerator { get; set; }
    public int Denominator { get; set; }

    /// <summary>The rate it is compared with.</summary>
    public double Target { get; set; }
    public required string Evidence { get; set; }
}

internal sealed class ConfigureQualityFinding : IEntityTypeConfiguration<QualityFinding>
{
    public void Configure(EntityTypeBuilder<QualityFinding> builder)
    {
        builder.ToTable("quality_findings");
        builder.HasIndex(f => new { f.SiteId, f.Subject, f.Name, f.Measure }).IsUnique().HasFilter("resolved_on is null");
        builder.HasOne<Site>().WithMany().HasForeignKey(f => f.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

/// <summary>The slice's own tables of the one database.</summary>
public static class SiteQualityTables
{
    extension(RegistryDb db)
    {
        public DbSet<QualityFinding> QualityFindings => db.Set<QualityFinding>();
    }
}
