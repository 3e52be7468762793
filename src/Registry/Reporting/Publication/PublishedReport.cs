using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Records;

namespace Registry.Reporting.Publication;

/// <summary>
/// A report as it was published: its definition and its figures. Never edited; a correction is another report. A trigger
/// refuses update and delete.
/// </summary>
public sealed class PublishedReport
{
    public Guid Id { get; init; }
    public required string Title { get; init; }
    public DateTimeOffset PublishedAt { get; init; }
    public Guid PublishedBy { get; init; }
    public DateOnly PeriodStart { get; init; }
    public DateOnly PeriodEnd { get; init; }
    public DateOnly AsOf { get; init; }
    public DateTimeOffset KnownAt { get; init; }
    public required string Breakdown { get; init; }
    public int? VitalBirths { get; init; }
    public required string PolicyVersion { get; init; }
    public required string MeasureSetVersion { get; init; }
    public required string ProgramVersion { get; init; }

    /// <summary>Stands for the facts counted (see FactsFingerprint in Registry.Rules.Measures).</summary>
    public required string Fingerprint { get; init; }

    /// <summary>JSON object: group → line → count.</summary>
    public required string Figures { get; init; }
}

internal sealed class ConfigurePublishedReport : IEntityTypeConfiguration<PublishedReport>
{
    public void Configure(EntityTypeBuilder<PublishedReport> builder)
    {
        builder.ToTable("published_reports");
        builder.HasIndex(r => r.PublishedAt);
        builder.Property(r => r.Figures).HasColumnType("jsonb");
    }
}

/// <summary>The slice's own tables of the one database.</summary>
public static class PublicationTables
{
    extension(RegistryDb db)
    {
        public DbSet<PublishedReport> PublishedReports => db.Set<PublishedReport>();
    }
}
