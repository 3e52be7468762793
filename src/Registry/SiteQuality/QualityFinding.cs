using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules.Quality;

namespace Registry.SiteQuality;

/// <summary>
/// A standing problem of a site as the nightly comparison raised it (<see cref="WatchRegion"/>): what is unusual, what explains most of it,
/// since when, and with what evidence. The evidence stays as it was when it was raised.
/// </summary>
public sealed class QualityFinding
{
    public Guid Id { get; init; }
    public SiteId SiteId { get; init; }

    /// <summary>What is named, and its serial or name; the site's code for what is no unit.</summary>
    public CauseKind Cause { get; init; }
    public required string Name { get; set; }
    public SessionMeasure Measure { get; init; }

    /// <summary>Too many; else too few.</summary>
    public bool Above { get; init; }
    public DateOnly FoundOn { get; init; }

    /// <summary>The last night it was found; and the first it no longer was.</summary>
    public DateOnly AsOf { get; set; }
    public DateOnly? ResolvedOn { get; set; }

    /// <summary>Since about when, and between which days most likely.</summary>
    public DateOnly OnsetOn { get; init; }
    public DateOnly OnsetFirst { get; init; }
    public DateOnly OnsetLast { get; init; }

    /// <summary>First sessions since the onset, those with the outcome, and how many were expected of such infants.</summary>
    public int Denominator { get; init; }
    public int Numerator { get; init; }
    public double Expected { get; init; }

    /// <summary>How sure it is that this, of all that was considered, is behind it.</summary>
    public double Sure { get; init; }

    /// <summary>The share of the site's excess that it explains; null without one.</summary>
    public double? Explained { get; init; }

    /// <summary>The same with another name: that of a screener where it may not be said.</summary>
    public QualityFinding Under(string name)
    {
        var same = (QualityFinding)MemberwiseClone();
        same.Name = name;
        return same;
    }
}

internal sealed class ConfigureQualityFinding : IEntityTypeConfiguration<QualityFinding>
{
    public void Configure(EntityTypeBuilder<QualityFinding> builder)
    {
        builder.ToTable("quality_findings");
        builder.HasIndex(f => new { f.SiteId, f.Cause, f.Name, f.Measure }).IsUnique().HasFilter("resolved_on is null");
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
