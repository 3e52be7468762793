using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules.Facts;

namespace Registry.Records;

/// <summary>What the tests of a diagnostic evaluation gave: holds as long as its diagnosis does. Written once, never edited.</summary>
public sealed class DiagnosisDetail
{
    public Guid DiagnosisId { get; init; }
    public BehavioralMethod? BehavioralMethod { get; init; }
    public AirTransducer? AirTransducer { get; init; }
    public Tympanogram? RightTympanogramLow { get; init; }
    public Tympanogram? RightTympanogramHigh { get; init; }
    public Tympanogram? LeftTympanogramLow { get; init; }
    public Tympanogram? LeftTympanogramHigh { get; init; }
    public Emissions? RightEmissions { get; init; }
    public Emissions? LeftEmissions { get; init; }
    public ScreeningMethod? EmissionsMethod { get; init; }
    public AbrScale? AbrScale { get; init; }
    public string? AbrCorrection { get; init; }
}

/// <summary>One threshold of a diagnosis's detail, as <see cref="Threshold"/> says.</summary>
public sealed class DiagnosisThreshold
{
    public Guid DiagnosisId { get; init; }
    public ThresholdKind Kind { get; init; }

    /// <summary>Right, left, or of both at once (the sound field).</summary>
    public ThresholdEar Ear { get; init; }
    public int FrequencyHz { get; init; }
    public int LevelDb { get; init; }
    public bool NoResponse { get; init; }
    public bool Masked { get; init; }
}

/// <summary>Whose threshold it is: an ear's, or the better of both in the sound field.</summary>
public enum ThresholdEar { Right, Left, Both }

internal sealed class ConfigureDiagnosisDetail : IEntityTypeConfiguration<DiagnosisDetail>
{
    public void Configure(EntityTypeBuilder<DiagnosisDetail> builder)
    {
        builder.ToTable("diagnosis_details");
        builder.HasKey(d => d.DiagnosisId);
        builder.Property(d => d.DiagnosisId).ValueGeneratedNever();
        builder.HasOne<DiagnosisRecord>().WithOne().HasForeignKey<DiagnosisDetail>(d => d.DiagnosisId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureDiagnosisThreshold : IEntityTypeConfiguration<DiagnosisThreshold>
{
    public void Configure(EntityTypeBuilder<DiagnosisThreshold> builder)
    {
        builder.ToTable("diagnosis_thresholds");
        builder.HasKey(t => new { t.DiagnosisId, t.Kind, t.Ear, t.FrequencyHz });
        builder.HasOne<DiagnosisDetail>().WithMany().HasForeignKey(t => t.DiagnosisId).OnDelete(DeleteBehavior.Restrict);
    }
}
