using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Platform;

/// <summary>What the program stated of itself, at one moment. Only added to: the last counts, the ones before are its history.</summary>
public sealed class ProgramSettings
{
    public long Id { get; init; }
    public DateTimeOffset StatedAt { get; init; }
    public Guid StatedBy { get; init; }
    public required string Name { get; init; }
    public required string Region { get; init; }
    public required string TimeZone { get; init; }
    public required string Phone { get; init; }
    public required string PrivacyContact { get; init; }
    public required string[] Languages { get; init; }
    public required string[] Counties { get; init; }
}

internal sealed class ConfigureProgramSettings : IEntityTypeConfiguration<ProgramSettings>
{
    public void Configure(EntityTypeBuilder<ProgramSettings> builder) => builder.ToTable("program_settings");
}
