using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

internal sealed class ConfigureHeldRow : IEntityTypeConfiguration<HeldRow>
{
    private const string WaitsForItsInfant = "resolution is null and reason = 'no_such_infant'";

    public void Configure(EntityTypeBuilder<HeldRow> builder)
    {
        builder.ToTable("held_rows");
        builder.HasKey(h => new { h.SubmissionId, h.RowNumber });
        builder.HasIndex(h => h.CardId).HasFilter(WaitsForItsInfant);
        builder.HasIndex(h => new { h.SiteId, h.RecordNumber }).HasFilter(WaitsForItsInfant);
        builder.HasIndex(h => h.BirthDate).HasFilter(WaitsForItsInfant);
        builder.HasIndex(h => new { h.SubmissionId, h.RowNumber }, "ix_held_rows_without_fact")
            .HasFilter("resolution is null and reason in ('nothing_recorded', 'others_rest_on_it')");
        builder.HasIndex(h => new { h.SubmissionId, h.RowNumber }, "ix_held_rows_claims")
            .HasFilter("resolution is null and reason in ('awaits_confirmation', 'not_confirmed')").HasDatabaseName("ix_held_rows_claims");
        builder.HasIndex(h => new { h.SiteId, h.Reason }, "ix_held_rows_open").HasFilter("resolution is null");
        builder.HasOne<Site>().WithMany().HasForeignKey(h => h.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureRowChange : IEntityTypeConfiguration<RowChange>
{
    public void Configure(EntityTypeBuilder<RowChange> builder)
    {
        builder.ToTable("row_changes");
        builder.HasIndex(c => new { c.SubmissionId, c.RowNumber });
        builder.HasIndex(c => c.TakesBack).IsUnique();
        builder.Property(c => c.Before).HasColumnType("jsonb");
    }
}

internal sealed class ConfigureBulkDecision : IEntityTypeConfiguration<BulkDecision>
{
    public void Configure(EntityTypeBuilder<BulkDecision> builder)
    {
        builder.ToTable("bulk_decisions");
        builder.HasOne<Site>().WithMany().HasForeignKey(b => b.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureBulkRow : IEntityTypeConfiguration<BulkRow>
{
    public void Configure(EntityTypeBuilder<BulkRow> builder)
    {
        builder.ToTable("bulk_rows");
        builder.HasKey(r => new { r.BulkId, r.SubmissionId, r.RowNumber });
        builder.HasIndex(r => new { r.BulkId, r.State, r.Ordinal });
        builder.HasIndex(r => r.ChangeId);
        builder.HasOne<BulkDecision>().WithMany().HasForeignKey(r => r.BulkId).OnDelete(DeleteBehavior.Restrict);
    }
}
