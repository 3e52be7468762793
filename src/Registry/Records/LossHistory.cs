using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

/// <summary>A chance of loss as it was fitted to this registry's own past, and how it came true: kept as it was made. The latest is used,
/// while its check holds.</summary>
public sealed class LossHistory
{
    public Guid Id { get; init; }

    /// <summary>Counted from 1.</summary>
    public int Version { get; init; }
    public DateTimeOffset MadeAt { get; init; }
    public required string PolicyVersion { get; init; }

    /// <summary>Births it was fitted to.</summary>
    public DateOnly BornFrom { get; init; }
    public DateOnly BornTo { get; init; }

    /// <summary>Whether its chances came true well enough to order calls.</summary>
    public bool Holds { get; init; }

    /// <summary>The coefficients, as JSON.</summary>
    public required string Document { get; init; }

    /// <summary>How it came true for infants the fit had not seen, as JSON.</summary>
    public required string Checked { get; init; }
}

internal sealed class ConfigureLossHistory : IEntityTypeConfiguration<LossHistory>
{
    public void Configure(EntityTypeBuilder<LossHistory> builder)
    {
        builder.ToTable("loss_histories");
        builder.HasIndex(h => h.Version).IsUnique();
        builder.Property(h => h.Document).HasColumnType("jsonb");
        builder.Property(h => h.Checked).HasColumnType("jsonb");
    }
}
