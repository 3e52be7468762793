using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Benchmarks;

/// <summary>One measure over one birth period as of one day: numerator, denominator, exclusions by reason.</summary>
public sealed class BenchmarkResult
{
    public required string Measure { get; init; }
    public DateOnly PeriodStart { get; init; }
    public DateOnly PeriodEnd { get; init; }
    public DateOnly AsOf { get; init; }
    public required string PolicyVersion { get; init; }
    public int Numerator { get; init; }
    public int Denominator { get; init; }

    /// <summary>JSON object: reason → count.</summary>
    public required string Exclusions { get; init; }
    public DateTimeOffset ComputedAt { get; init; }
}

internal sealed class ConfigureBenchmarkResult : IEntityTypeConfiguration<BenchmarkResult>
{
    public void Configure(EntityTypeBuilder<BenchmarkResult> builder)
    {
        builder.ToTable("benchmark_results");
        builder.HasKey(r => new { r.Measure, r.PeriodStart, r.PeriodEnd, r.AsOf });
        builder.Property(r => r.Exclusions).HasColumnType("jsonb");
    }
}
