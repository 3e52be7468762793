using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.ChangeTracking;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;
using Registry.Rules.Quality;
using Registry.SiteQuality.Flags;

namespace Registry.SiteQuality;

/// <summary>
/// A standing problem of a site as the nightly comparison raised it (<see cref="WatchRegion"/>): what is unusual, what explains most of it,
/// since when, and with what evidence. The evidence, and the part it was raised with, stay as they were; what later nights named it by
/// stands beside them. It stands until somebody closes it.
/// </summary>
public sealed class QualityFinding
{
    public Guid Id { get; init; }
    public SiteId SiteId { get; init; }

    /// <summary>What it was raised with, and its serial or name; the site's code for what is no unit.</summary>
    public CauseKind Cause { get; init; }
    public required string Name { get; set; }
    public SessionMeasure Measure { get; init; }

    /// <summary>Too many; else too few.</summary>
    public bool Above { get; init; }

    /// <summary>The day of test through which its evidence goes; and the night of the job that raised it, which is later where results came
    /// late: before it nobody could know.</summary>
    public DateOnly FoundOn { get; init; }
    public DateOnly RecordedOn { get; init; }

    /// <summary>The last night it was found; and the first it no longer was, though nobody closed it.</summary>
    public DateOnly AsOf { get; set; }
    public DateOnly? ResolvedOn { get; set; }

    /// <summary>What the same problem is named by on the last night it was found: results that came later can name another part.</summary>
    public CauseKind FoundCause { get; set; }
    public required string FoundName { get; set; }

    /// <summary>What it is named by, the first time as it was raised, then whenever a night said something else. Never empty.</summary>
    public required IReadOnlyList<FlagNaming> Namings { get; set; }

    /// <summary>What it is named by now.</summary>
    public FlagNaming Named => Namings[^1];

    /// <summary>What it was raised with.</summary>
    public CauseFactor Raised => new(Cause, Name);
    public bool IsRenamed => Named.Part != Raised;

    /// <summary>Since about when, and between which days most likely.</summary>
    public DateOnly OnsetOn { get; init; }
    public DateOnly OnsetFirst { get; init; }
    public DateOnly OnsetLast { get; init; }

    /// <summary>First sessions since the onset, or rescreens (by the measure), those with the outcome, and how many were expected of such
    /// infants.</summary>
    public int Denominator { get; init; }
    public int Numerator { get; init; }
    public double Expected { get; init; }

    /// <summary>How sure it is that this, of all that was considered, is behind it.</summary>
    public double Sure { get; init; }

    /// <summary>The share of the site's excess that it explains; null without one.</summary>
    public double? Explained { get; init; }

    /// <summary>Its limits of 95 %.</summary>
    public double? ExplainedLeast { get; init; }
    public double? ExplainedMost { get; init; }

    /// <summary>The policy in force that night, and the first day of the year that was watched: the case mix was fitted on the one
    /// before.</summary>
    public required string PolicyVersion { get; init; }
    public DateOnly WatchedFrom { get; init; }

    /// <summary>What people did about it (<see cref="FlagAct"/>): how far that has come, and how many acts it is made of.</summary>
    public FlagState State { get; set; }
    public int Acts { get; set; }
    public DateOnly? WatchedUntil { get; set; }
    public DateOnly? ClosedOn { get; set; }

    /// <summary>The same with other names of its parts: that of a screener where it may not be said.</summary>
    public QualityFinding Under(Func<CauseFactor, CauseFactor> named)
    {
        var same = (QualityFinding)MemberwiseClone();
        same.Name = named(Raised).Code;
        same.FoundName = named(new(FoundCause, FoundName)).Code;
        same.Namings = [.. Namings.Select(n => n.With(named))];
        return same;
    }

    /// <summary>The same as it was named on a day.</summary>
    public QualityFinding KnownOn(DateOnly day)
    {
        var same = (QualityFinding)MemberwiseClone();
        same.Namings = [Namings[0], .. Namings.Skip(1).Where(n => n.On <= day)];
        return same;
    }
}

internal sealed class ConfigureQualityFinding : IEntityTypeConfiguration<QualityFinding>
{
    public void Configure(EntityTypeBuilder<QualityFinding> builder)
    {
        builder.ToTable("quality_findings");
        builder.HasIndex(f => new { f.SiteId, f.FoundCause, f.FoundName, f.Measure, f.Above }).IsUnique()
            .HasFilter("closed_on is null").HasDatabaseName("ix_quality_findings_open");
        builder.Property(f => f.Namings).HasColumnType("jsonb").HasConversion(
            namings => FlagNaming.Write(namings), document => FlagNaming.Read(document),
            new ValueComparer<IReadOnlyList<FlagNaming>>((a, b) => ReferenceEquals(a, b), namings => namings.Count, namings => namings));
        builder.Ignore(f => f.Named);
        builder.Property(f => f.Acts).IsConcurrencyToken();
        builder.HasOne<Site>().WithMany().HasForeignKey(f => f.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

/// <summary>The slice's own tables of the one database.</summary>
public static class SiteQualityTables
{
    extension(RegistryDb db)
    {
        public DbSet<QualityFinding> QualityFindings => db.Set<QualityFinding>();
        public DbSet<QualityPlan> QualityPlans => db.Set<QualityPlan>();
        public DbSet<FlagAct> FlagActs => db.Set<FlagAct>();
        public DbSet<FlagDigest> FlagDigests => db.Set<FlagDigest>();
    }
}
