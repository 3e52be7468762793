using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Operations.Alarms;

/// <summary>A problem of running the registry, from when it was noticed until it was gone. Holds no personal data.</summary>
public sealed class Alarm
{
    public Guid Id { get; init; }

    /// <summary>What is the matter: the name of a condition, and of a job where it is one's.</summary>
    public required string Problem { get; init; }
    public DateTimeOffset Since { get; init; }

    /// <summary>When it was told by mail; once.</summary>
    public DateTimeOffset? MailedAt { get; set; }
    public DateTimeOffset? EndedAt { get; set; }
}

internal sealed class ConfigureAlarm : IEntityTypeConfiguration<Alarm>
{
    public void Configure(EntityTypeBuilder<Alarm> builder)
    {
        builder.ToTable("alarms");
        builder.HasIndex(a => a.Problem).IsUnique().HasFilter("ended_at is null");
    }
}
