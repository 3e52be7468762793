using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

internal sealed class ConfigureSubmission : IEntityTypeConfiguration<Submission>
{
    public void Configure(EntityTypeBuilder<Submission> builder)
    {
        builder.ToTable("submissions");
        builder.HasIndex(s => new { s.SiteId, s.IdempotencyKey }).IsUnique();
        builder.HasIndex(s => s.ReceivedAt);
        builder.HasIndex(s => s.SiteId).IncludeProperties(s => new { s.ByteCount, s.State, s.FinishedAt })
            .HasDatabaseName("ix_submissions_stored");
        builder.HasIndex(s => s.State).HasFilter("state in ('received','processing')");
        builder.Property(s => s.Refusal).HasColumnType("jsonb");
        builder.HasOne<Site>().WithMany().HasForeignKey(s => s.SiteId).OnDelete(DeleteBehavior.Restrict);
        builder.HasOne<ColumnMappingVersion>().WithMany().HasForeignKey(s => s.MappingVersionId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureColumnMappingVersion : IEntityTypeConfiguration<ColumnMappingVersion>
{
    public void Configure(EntityTypeBuilder<ColumnMappingVersion> builder)
    {
        builder.ToTable("column_mapping_versions");
        builder.HasIndex(m => new { m.MappingId, m.Version }).IsUnique();
        builder.HasIndex(m => m.SiteId);
        builder.Property(m => m.Document).HasColumnType("jsonb");
        builder.HasOne<Site>().WithMany().HasForeignKey(m => m.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureSubmissionChunk : IEntityTypeConfiguration<SubmissionChunk>
{
    public void Configure(EntityTypeBuilder<SubmissionChunk> builder)
    {
        builder.ToTable("submission_chunks");
        builder.HasKey(c => new { c.SubmissionId, c.Ordinal });
    }
}

internal sealed class ConfigureSubmissionRow : IEntityTypeConfiguration<SubmissionRow>
{
    public void Configure(EntityTypeBuilder<SubmissionRow> builder)
    {
        builder.ToTable("submission_rows");
        builder.HasKey(r => new { r.SubmissionId, r.RowNumber });
        builder.HasIndex(r => r.SubmissionId).HasFilter("outcome in ('held','rejected')").HasDatabaseName("ix_submission_rows_open");
        builder.HasIndex(r => new { r.SubmissionId, r.RowNumber })
            .HasFilter("outcome in ('held','rejected') and discarded_at is null").HasDatabaseName("ix_submission_rows_waiting");
        builder.HasIndex(r => r.DiscardedAt).HasFilter("discarded_at is not null");
        builder.HasIndex(r => r.InfantId).HasFilter("outcome = 'held' and infant_id is not null")
            .HasDatabaseName("ix_submission_rows_held_of_infant");
        builder.HasIndex(r => r.ContentKey).HasMethod("hash").HasFilter("content_key is not null");
        builder.HasIndex(r => r.IdentifierKeys).HasMethod("gin").HasFilter("identifier_keys is not null");
        builder.Property(r => r.Problems).HasColumnType("jsonb");
    }
}
