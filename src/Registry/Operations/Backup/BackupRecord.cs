using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Operations.Backup;

/// <summary>A backup that was written to its end. The archive itself lies where it was written; this says that it was.</summary>
public sealed class BackupRecord
{
    public Guid Id { get; init; }

    /// <summary>The moment whose state the archive holds.</summary>
    public DateTimeOffset TakenAt { get; init; }
    public DateTimeOffset FinishedAt { get; init; }
    public int Tables { get; init; }
    public long Rows { get; init; }
    public long Bytes { get; init; }
}

internal sealed class ConfigureBackup : IEntityTypeConfiguration<BackupRecord>
{
    public void Configure(EntityTypeBuilder<BackupRecord> builder)
    {
        builder.ToTable("backups");
        builder.HasIndex(b => b.TakenAt);
    }
}
