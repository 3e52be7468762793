using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Identity.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Storage.ValueConversion;
using Registry.Access;
using Registry.Benchmarks;
using Registry.FollowUp;
using Registry.Outreach;
using Registry.Platform.Jobs;
using Registry.PolicyChanges;
using Registry.Reporting.Publication;
using Registry.Rules.Facts;
using Registry.SiteQuality;

namespace Registry.Records;

/// <summary>
/// The schema. EF Core serves single records, simple reads and the migrations; intake, status computation and
/// aggregates use SQL on the same <see cref="Npgsql.NpgsqlDataSource"/>.
/// </summary>
public sealed class RegistryDb(DbContextOptions<RegistryDb> options)
    : IdentityUserContext<Person, Guid>(options)
{
    public DbSet<Site> Sites => Set<Site>();
    public DbSet<SiteKey> SiteKeys => Set<SiteKey>();
    public DbSet<Submission> Submissions => Set<Submission>();
    public DbSet<ColumnMappingVersion> ColumnMappingVersions => Set<ColumnMappingVersion>();
    public DbSet<SubmissionChunk> SubmissionChunks => Set<SubmissionChunk>();
    public DbSet<SubmissionRow> SubmissionRows => Set<SubmissionRow>();
    public DbSet<HeldRow> HeldRows => Set<HeldRow>();
    public DbSet<RowChange> RowChanges => Set<RowChange>();
    public DbSet<BulkDecision> BulkDecisions => Set<BulkDecision>();
    public DbSet<BulkRow> BulkRows => Set<BulkRow>();
    public DbSet<Infant> Infants => Set<Infant>();
    public DbSet<InfantIdentifier> InfantIdentifiers => Set<InfantIdentifier>();
    public DbSet<BirthRecord> Births => Set<BirthRecord>();
    public DbSet<ScreeningRecord> Screenings => Set<ScreeningRecord>();
    public DbSet<ScreeningDetail> ScreeningDetails => Set<ScreeningDetail>();
    public DbSet<ScreeningBand> ScreeningBands => Set<ScreeningBand>();
    public DbSet<DiagnosisRecord> Diagnoses => Set<DiagnosisRecord>();
    public DbSet<InterventionRecord> Interventions => Set<InterventionRecord>();
    public DbSet<DeathRecord> Deaths => Set<DeathRecord>();
    public DbSet<MoveRecord> Moves => Set<MoveRecord>();
    public DbSet<TransferRecord> Transfers => Set<TransferRecord>();
    public DbSet<RefusalRecord> Refusals => Set<RefusalRecord>();
    public DbSet<RiskRecord> Risks => Set<RiskRecord>();
    public DbSet<ContactRecord> Contacts => Set<ContactRecord>();
    public DbSet<ReadmissionRecord> Readmissions => Set<ReadmissionRecord>();
    public DbSet<MedicalDelayRecord> MedicalDelays => Set<MedicalDelayRecord>();
    public DbSet<CorrectionRecord> Corrections => Set<CorrectionRecord>();
    public DbSet<InfantStatusRow> InfantStatuses => Set<InfantStatusRow>();
    public DbSet<PolicyRecord> Policies => Set<PolicyRecord>();
    public DbSet<PolicyDraft> PolicyDrafts => Set<PolicyDraft>();
    public DbSet<AccessRecord> AccessRecords => Set<AccessRecord>();
    public DbSet<BenchmarkResult> BenchmarkResults => Set<BenchmarkResult>();
    public DbSet<Reminder> Reminders => Set<Reminder>();
    public DbSet<MailStop> MailStops => Set<MailStop>();
    public DbSet<JobRun> JobRuns => Set<JobRun>();
    public DbSet<QualityFinding> QualityFindings => Set<QualityFinding>();
    public DbSet<LossFinding> LossFindings => Set<LossFinding>();
    public DbSet<PublishedReport> PublishedReports => Set<PublishedReport>();

    protected override void ConfigureConventions(ModelConfigurationBuilder configurationBuilder)
    {
        configurationBuilder.Properties<InfantId>().HaveConversion<InfantIdConverter>();
        configurationBuilder.Properties<SiteId>().HaveConversion<SiteIdConverter>();
        configurationBuilder.Properties<SubmissionId>().HaveConversion<SubmissionIdConverter>();
        configurationBuilder.Properties<DateTime>().HaveColumnType("timestamp without time zone");
    }

    protected override void OnModelCreating(ModelBuilder builder)
    {
        base.OnModelCreating(builder);

        // Identity's own tables, under this house's names.
        builder.Entity<Person>().ToTable("people");
        builder.Entity<IdentityUserClaim<Guid>>().ToTable("person_claims");
        builder.Entity<IdentityUserLogin<Guid>>().ToTable("person_logins");
        builder.Entity<IdentityUserToken<Guid>>().ToTable("person_tokens");

        builder.Entity<Site>(e =>
        {
            e.HasIndex(s => s.Code).IsUnique();
            e.HasIndex(s => s.Name).IsUnique();
        });
        builder.Entity<SiteKey>().HasIndex(k => k.Sha256).IsUnique();
        builder.Entity<SiteKey>().HasOne<Site>().WithMany().HasForeignKey(k => k.SiteId).OnDelete(DeleteBehavior.Restrict);
        builder.Entity<Person>().HasOne<Site>().WithMany().HasForeignKey(p => p.SiteId).OnDelete(DeleteBehavior.Restrict);

        builder.Entity<Submission>(e =>
        {
            e.HasIndex(s => new { s.SiteId, s.IdempotencyKey }).IsUnique();
            e.HasIndex(s => s.ReceivedAt);
            e.HasIndex(s => s.State).HasFilter("state in ('received','processing')");
            e.Property(s => s.Refusal).HasColumnType("jsonb");
            e.HasOne<Site>().WithMany().HasForeignKey(s => s.SiteId).OnDelete(DeleteBehavior.Restrict);
            e.HasOne<ColumnMappingVersion>().WithMany().HasForeignKey(s => s.MappingVersionId).OnDelete(DeleteBehavior.Restrict);
        });
        builder.Entity<ColumnMappingVersion>(e =>
        {
            e.HasIndex(m => new { m.MappingId, m.Version }).IsUnique();
            e.HasIndex(m => m.SiteId);
            e.Property(m => m.Document).HasColumnType("jsonb");
            e.HasOne<Site>().WithMany().HasForeignKey(m => m.SiteId).OnDelete(DeleteBehavior.Restrict);
        });
        builder.Entity<SubmissionChunk>().HasKey(c => new { c.SubmissionId, c.Ordinal });
        builder.Entity<SubmissionRow>(e =>
        {
            e.HasKey(r => new { r.SubmissionId, r.RowNumber });
            e.HasIndex(r => r.SubmissionId).HasFilter("outcome in ('held','rejected')").HasDatabaseName("ix_submission_rows_open");
            e.HasIndex(r => new { r.SubmissionId, r.RowNumber }).HasFilter("outcome in ('held','rejected') and discarded_at is null")
                .HasDatabaseName("ix_submission_rows_waiting");
            e.HasIndex(r => r.Content).HasMethod("hash").HasFilter("content is not null");
            e.Property(r => r.Problems).HasColumnType("jsonb");
            e.Property(r => r.Content).HasColumnType("jsonb");
        });
        builder.Entity<RowChange>(e =>
        {
            e.HasIndex(c => new { c.SubmissionId, c.RowNumber });
            e.HasIndex(c => c.TakesBack).IsUnique();
            e.Property(c => c.Before).HasColumnType("jsonb");
        });
        builder.Entity<BulkDecision>().HasOne<Site>().WithMany().HasForeignKey(b => b.SiteId).OnDelete(DeleteBehavior.Restrict);
        builder.Entity<BulkRow>(e =>
        {
            e.HasKey(r => new { r.BulkId, r.SubmissionId, r.RowNumber });
            e.HasIndex(r => new { r.BulkId, r.State, r.Ordinal });
            e.HasIndex(r => r.ChangeId);
            e.HasOne<BulkDecision>().WithMany().HasForeignKey(r => r.BulkId).OnDelete(DeleteBehavior.Restrict);
        });

        builder.Entity<HeldRow>(e =>
        {
            e.HasKey(h => new { h.SubmissionId, h.RowNumber });
            e.HasIndex(h => h.CardId).HasFilter("resolution is null and reason = 'no_such_infant'");
            e.HasIndex(h => new { h.SiteId, h.RecordNumber }).HasFilter("resolution is null and reason = 'no_such_infant'");
            e.HasIndex(h => h.BirthDate).HasFilter("resolution is null and reason = 'no_such_infant'");
            e.HasIndex(h => new { h.SubmissionId, h.RowNumber }, "ix_held_rows_without_fact")
                .HasFilter("resolution is null and reason in ('nothing_recorded', 'others_rest_on_it')");
            e.HasIndex(h => new { h.SiteId, h.Reason }, "ix_held_rows_open").HasFilter("resolution is null");
            e.HasOne<Site>().WithMany().HasForeignKey(h => h.SiteId).OnDelete(DeleteBehavior.Restrict);
        });

        Fact<InfantIdentifier>(builder, "infant_identifiers");
        builder.Entity<InfantIdentifier>().HasIndex(i => i.Value, "ux_card_id").IsUnique()
            .HasFilter("superseded_at is null and kind = 'card_id'");
        builder.Entity<InfantIdentifier>().HasIndex(i => new { i.SiteId, i.Value }, "ux_record_number").IsUnique()
            .HasFilter("superseded_at is null and kind = 'record_number'");
        Fact<BirthRecord>(builder, "births");
        builder.Entity<BirthRecord>().HasIndex(b => new { b.BornOn, b.MotherFamilyKey }).HasFilter("superseded_at is null");
        builder.Entity<BirthRecord>().HasIndex(b => new { b.BornOn, b.MotherBornOn }).HasFilter("superseded_at is null");
        builder.Entity<BirthRecord>().HasIndex(b => b.InfantId, "ux_births_current").IsUnique().HasFilter("superseded_at is null");
        Fact<ScreeningRecord>(builder, "screenings").HasIndex(s => new { s.SiteId, s.PerformedAt });
        builder.Entity<ScreeningDetail>(e =>
        {
            e.HasKey(d => d.ScreeningId);
            e.Property(d => d.ScreeningId).ValueGeneratedNever();
            e.HasOne<ScreeningRecord>().WithOne().HasForeignKey<ScreeningDetail>(d => d.ScreeningId).OnDelete(DeleteBehavior.Restrict);
        });
        builder.Entity<ScreeningBand>(e =>
        {
            e.HasKey(b => new { b.ScreeningId, b.FrequencyHz });
            e.HasOne<ScreeningDetail>().WithMany().HasForeignKey(b => b.ScreeningId).OnDelete(DeleteBehavior.Restrict);
        });
        Fact<DiagnosisRecord>(builder, "diagnoses");
        Fact<InterventionRecord>(builder, "interventions");
        Fact<DeathRecord>(builder, "deaths");
        Fact<MoveRecord>(builder, "moves");
        Fact<TransferRecord>(builder, "transfers");
        Fact<RefusalRecord>(builder, "refusals");
        Fact<RiskRecord>(builder, "risks");
        Fact<ContactRecord>(builder, "contacts");
        Fact<ReadmissionRecord>(builder, "readmissions");
        Fact<MedicalDelayRecord>(builder, "medical_delays");
        builder.Entity<CorrectionRecord>(e =>
        {
            e.ToTable("corrections");
            e.HasIndex(c => c.InfantId);
            e.HasIndex(c => c.FactId).IsUnique().HasFilter("superseded_at is null");
            e.HasOne<Infant>().WithMany().HasForeignKey(c => c.InfantId).OnDelete(DeleteBehavior.Restrict);
            e.HasOne<Site>().WithMany().HasForeignKey(c => c.SiteId).OnDelete(DeleteBehavior.Restrict);
        });

        builder.Entity<InfantStatusRow>(e =>
        {
            e.ToTable("infant_status");
            e.HasKey(s => s.InfantId);
            e.Property(s => s.Dues).HasColumnType("jsonb");
            e.HasIndex(s => s.BornOn);
            e.HasIndex(s => s.NextChangeOn);
            e.HasIndex(s => new { s.ResponsibleSiteId, s.NextDueOn });
            e.HasIndex(s => s.BirthSiteId);
        });
        builder.Entity<PolicyRecord>(e =>
        {
            e.ToTable("policies");
            e.HasKey(p => p.Version);
            e.Property(p => p.Document).HasColumnType("jsonb");
        });
        builder.Entity<PolicyDraft>(e =>
        {
            e.Property(d => d.Document).HasColumnType("jsonb");
            e.Property(d => d.Changes).HasColumnType("jsonb");
        });
        builder.Entity<AccessRecord>(e =>
        {
            e.HasIndex(a => a.InfantId);
            e.HasIndex(a => a.At);
        });
        builder.Entity<BenchmarkResult>().HasKey(r => new { r.Measure, r.PeriodStart, r.PeriodEnd, r.AsOf });
        builder.Entity<BenchmarkResult>().Property(r => r.Exclusions).HasColumnType("jsonb");
        builder.Entity<PublishedReport>(e =>
        {
            e.HasIndex(r => r.PublishedAt);
            e.Property(r => r.Figures).HasColumnType("jsonb");
        });
        builder.Entity<Reminder>(e =>
        {
            e.HasIndex(r => new { r.InfantId, r.Step, r.DueOn, r.Ordinal }).IsUnique();
            e.HasIndex(r => r.StopToken).IsUnique();
            e.HasIndex(r => r.State);
            e.HasOne<Infant>().WithMany().HasForeignKey(r => r.InfantId).OnDelete(DeleteBehavior.Restrict);
        });
        builder.Entity<MailStop>().HasKey(s => s.InfantId);
        builder.Entity<JobRun>(e =>
        {
            e.HasIndex(r => new { r.Job, r.StartedAt });
            e.HasIndex(r => r.BackgroundJobId).HasFilter("outcome = 'running'");
        });
        builder.Entity<QualityFinding>().HasIndex(f => new { f.SiteId, f.Subject, f.Name, f.Measure }).IsUnique()
            .HasFilter("resolved_on is null");
        builder.Entity<QualityFinding>().HasOne<Site>().WithMany().HasForeignKey(f => f.SiteId).OnDelete(DeleteBehavior.Restrict);
        builder.Entity<LossFinding>().HasIndex(f => f.InfantId).IsUnique().HasFilter("recovered_on is null");
        builder.Entity<LossFinding>().HasOne<Infant>().WithMany().HasForeignKey(f => f.InfantId).OnDelete(DeleteBehavior.Restrict);

        // Every coded value is stored as its code (Registry.Rules.Facts.Codes), readable in psql and in an export.
        foreach (var property in builder.Model.GetEntityTypes().SelectMany(t => t.GetProperties()))
        {
            var type = Nullable.GetUnderlyingType(property.ClrType) ?? property.ClrType;
            if (type.IsEnum)
                property.SetValueConverter((ValueConverter)Activator.CreateInstance(typeof(CodeConverter<>).MakeGenericType(type))!);
        }
    }

    /// <summary>Table name, key, the index every reader of an infant's facts uses, and no cascade: facts outlive everything.</summary>
    private static Microsoft.EntityFrameworkCore.Metadata.Builders.EntityTypeBuilder<T> Fact<T>(ModelBuilder model, string table)
        where T : Fact
    {
        var entity = model.Entity<T>();
        entity.ToTable(table);
        entity.HasIndex(f => f.InfantId);
        entity.HasOne<Infant>().WithMany().HasForeignKey(f => f.InfantId).OnDelete(DeleteBehavior.Restrict);
        entity.HasOne<Site>().WithMany().HasForeignKey(f => f.SiteId).OnDelete(DeleteBehavior.Restrict);
        return entity;
    }

    private sealed class InfantIdConverter() : ValueConverter<InfantId, Guid>(id => id.Value, value => new(value));
    private sealed class SiteIdConverter() : ValueConverter<SiteId, Guid>(id => id.Value, value => new(value));
    private sealed class SubmissionIdConverter() : ValueConverter<SubmissionId, Guid>(id => id.Value, value => new(value));
    private sealed class CodeConverter<T>() : ValueConverter<T, string>(v => Codes.Of(v), v => Codes.Parse<T>(v))
        where T : struct, Enum;
}
