using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;

namespace Registry.Records;

internal sealed class ConfigureHeldRow : IEntityTypeConfiguration<HeldRow>
{
    private const string Waits = "resolution is null";
    private const string Leans = "leans_on is not null";

    public void Configure(EntityTypeBuilder<HeldRow> builder)
    {
        builder.ToTable("held_rows");
        builder.HasKey(h => new { h.SubmissionId, h.RowNumber });
        // A waiting row is found again by everything it names (FindTouchedHeldRows.sql).
        builder.HasIndex(h => h.CardId).HasFilter($"{Waits} and card_id is not null");
        builder.HasIndex(h => new { h.SiteId, h.RecordNumber }).HasFilter($"{Waits} and record_number is not null");
        builder.HasIndex(h => new { h.SiteId, h.PriorRecordNumber }).HasFilter($"{Waits} and prior_record_number is not null");
        builder.HasIndex(h => new { h.BirthDate, h.MotherFamilyKey }).HasFilter($"{Waits} and mother_family_key is not null");
        builder.HasIndex(h => new { h.BirthDate, h.MotherBornOn }).HasFilter($"{Waits} and mother_born_on is not null");
        builder.HasIndex(h => h.InfantId).HasFilter($"{Waits} and infant_id is not null");
        builder.HasIndex(h => new { h.SubmissionId, h.RowNumber }, "ix_held_rows_without_fact")
            .HasFilter($"{Waits} and reason in ('nothing_recorded', 'others_rest_on_it')");
        builder.HasIndex(h => new { h.SubmissionId, h.RowNumber }, "ix_held_rows_claims")
            .HasFilter($"{Waits} and reason in ('awaits_confirmation', 'not_confirmed')").HasDatabaseName("ix_held_rows_claims");
        builder.HasIndex(h => new { h.SiteId, h.Reason }, "ix_held_rows_open").HasFilter(Waits);
        // A leaning row by whom it might be about (FindLeaningRows.sql).
        builder.HasIndex(h => new { h.BirthDate, h.MotherFamilyKey }, "ix_held_rows_leaning_family").HasFilter(Leans);
        builder.HasIndex(h => new { h.BirthDate, h.MotherBornOn }, "ix_held_rows_leaning_mother").HasFilter(Leans);
        builder.HasIndex(h => h.CardId, "ix_held_rows_leaning_card").HasFilter(Leans);
        builder.HasIndex(h => h.InfantId, "ix_held_rows_leaning_infant").HasFilter(Leans);
        builder.HasIndex(h => h.ResolvedAt).HasFilter("resolved_at is not null"); // what waited at the end of a week
        builder.HasOne<Site>().WithMany().HasForeignKey(h => h.SiteId).OnDelete(DeleteBehavior.Restrict);
    }
}

internal sealed class ConfigureRowChange : IEntityTypeConfiguration<RowChange>
{
    public void Configure(EntityTypeBuilder<RowChange> builder)
    {
        builder.ToTable("row_changes");
        builder.HasIndex(c => new { c.SubmissionId, c.RowNumber });
        builder.HasIndex(c => c.At);
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
