using Microsoft.AspNetCore.Identity;
using Microsoft.AspNetCore.Identity.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Storage.ValueConversion;
using Registry.Access;
using Registry.Benchmarks;
using Registry.Outreach;
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
    public DbSet<SubmissionChunk> SubmissionChunks => Set<SubmissionChunk>();
    public DbSet<SubmissionRow> SubmissionRows => Set<SubmissionRow>();
    public DbSet<Infant> Infants => Set<Infant>();
    public DbSet<InfantIdentifier> InfantIdentifiers => Set<InfantIdentifier>();
    public DbSet<BirthRecord> Births => Set<BirthRecord>();
    public DbSet<ScreeningRecord> Screenings => Set<ScreeningRecord>();
    public DbSet<DiagnosisRecord> Diagnoses => Set<DiagnosisRecord>();
    public DbSet<InterventionRecord> Interventions => Set<InterventionRecord>();
    public DbSet<DeathRecord> Deaths => Set<DeathRecord>();
    public DbSet<MoveRecord> Moves => Set<MoveRecord>();
    public DbSet<TransferRecord> Transfers => Set<TransferRecord>();
    public DbSet<RefusalRecord> Refusals => Set<RefusalRecord>();
    public DbSet<RiskRecord> Risks => Set<RiskRecord>();
    public DbSet<ContactRecord> Contacts => Set<ContactRecord>();
    public DbSet<InfantStatusRow> InfantStatuses => Set<InfantStatusRow>();
    public DbSet<PolicyRecord> Policies => Set<PolicyRecord>();
    public DbSet<AccessRecord> AccessRecords => Set<AccessRecord>();
    public DbSet<SiteRate> SiteRates => Set<SiteRate>();
    public DbSet<BenchmarkResult> BenchmarkResults => Set<BenchmarkResult>();
    public DbSet<Reminder> Reminders => Set<Reminder>();

    protected override void ConfigureConventions(ModelConfigurationBuilder conventions)
    {
        conventions.Properties<InfantId>().HaveConversion<InfantIdConverter>();
        conventions.Properties<SiteId>().HaveConversion<SiteIdConverter>();
        conventions.Properties<SubmissionId>().HaveConversion<SubmissionIdConverter>();
        conventions.Properties<DateTime>().HaveColumnType("timestamp without time zone");
    }

    protected override void OnModelCreating(ModelBuilder model)
    {
        base.OnModelCreating(model);

        // Identity's own tables, under this house's names.
        model.Entity<Person>().ToTable("people");
        model.Entity<IdentityUserClaim<Guid>>().ToTable("person_claims");
        model.Entity<IdentityUserLogin<Guid>>().ToTable("person_logins");
        model.Entity<IdentityUserToken<Guid>>().ToTable("person_tokens");

        model.Entity<Site>(e =>
        {
            e.HasIndex(s => s.Code).IsUnique();
            e.HasIndex(s => s.Name).IsUnique();
        });
        model.Entity<SiteKey>().HasIndex(k => k.Sha256).IsUnique();
        model.Entity<SiteKey>().HasOne<Site>().WithMany().HasForeignKey(k => k.SiteId).OnDelete(DeleteBehavior.Restrict);
        model.Entity<Person>().HasOne<Site>().WithMany().HasForeignKey(p => p.SiteId).OnDelete(DeleteBehavior.Restrict);

        model.Entity<Submission>(e =>
        {
            e.HasIndex(s => new { s.SiteId, s.IdempotencyKey }).IsUnique();
            e.HasIndex(s => s.ReceivedAt);
            e.HasIndex(s => s.State).HasFilter("state in ('received','processing')");
            e.Property(s => s.Refusal).HasColumnType("jsonb");
            e.HasOne<Site>().WithMany().HasForeignKey(s => s.SiteId).OnDelete(DeleteBehavior.Restrict);
        });
        model.Entity<SubmissionChunk>().HasKey(c => new { c.SubmissionId, c.Ordinal });
        model.Entity<SubmissionRow>(e =>
        {
            e.HasKey(r => new { r.SubmissionId, r.RowNumber });
            e.HasIndex(r => r.SubmissionId).HasFilter("outcome in ('held','rejected')").HasDatabaseName("ix_submission_rows_open");
            e.Property(r => r.Problems).HasColumnType("jsonb");
            e.Property(r => r.Content).HasColumnType("jsonb");
        });

        Fact<InfantIdentifier>(model, "infant_identifiers").HasIndex(i => new { i.Kind, i.Value, i.SiteId })
            .HasFilter("superseded_at is null");
        model.Entity<InfantIdentifier>().HasIndex(i => i.Value, "ux_card_id").IsUnique()
            .HasFilter("superseded_at is null and kind = 'card_id'");
        model.Entity<InfantIdentifier>().HasIndex(i => new { i.SiteId, i.Value }, "ux_record_number").IsUnique()
            .HasFilter("superseded_at is null and kind = 'record_number'");
        Fact<BirthRecord>(model, "births").HasIndex(b => b.BornOn);
        model.Entity<BirthRecord>().HasIndex(b => b.MotherKey).HasFilter("superseded_at is null");
        model.Entity<BirthRecord>().HasIndex(b => b.InfantId, "ux_births_current").IsUnique().HasFilter("superseded_at is null");
        Fact<ScreeningRecord>(model, "screenings").HasIndex(s => new { s.SiteId, s.PerformedAt });
        Fact<DiagnosisRecord>(model, "diagnoses");
        Fact<InterventionRecord>(model, "interventions");
        Fact<DeathRecord>(model, "deaths");
        Fact<MoveRecord>(model, "moves");
        Fact<TransferRecord>(model, "transfers");
        Fact<RefusalRecord>(model, "refusals");
        Fact<RiskRecord>(model, "risks");
        Fact<ContactRecord>(model, "contacts");

        model.Entity<InfantStatusRow>(e =>
        {
            e.ToTable("infant_status");
            e.HasKey(s => s.InfantId);
            e.Property(s => s.Dues).HasColumnType("jsonb");
            e.HasIndex(s => s.BornOn);
            e.HasIndex(s => s.NextChangeOn);
            e.HasIndex(s => new { s.ResponsibleSiteId, s.NextDueOn });
            e.HasIndex(s => s.BirthSiteId);
        });
        model.Entity<PolicyRecord>(e =>
        {
            e.ToTable("policies");
            e.HasKey(p => p.Version);
            e.Property(p => p.Document).HasColumnType("jsonb");
        });
        model.Entity<AccessRecord>(e =>
        {
            e.HasIndex(a => a.InfantId);
            e.HasIndex(a => a.At);
        });
        model.Entity<SiteRate>().HasKey(r => new { r.SiteId, r.PeriodStart, r.PeriodEnd });
        model.Entity<BenchmarkResult>().HasKey(r => new { r.Measure, r.PeriodStart, r.PeriodEnd, r.AsOf });
        model.Entity<BenchmarkResult>().Property(r => r.Exclusions).HasColumnType("jsonb");
        model.Entity<Reminder>(e =>
        {
            e.HasIndex(r => new { r.InfantId, r.Step, r.DueOn }).IsUnique();
            e.HasIndex(r => r.State);
        });

        // Every coded value is stored as its code (Registry.Rules.Facts.Codes), readable in psql and in an export.
        foreach (var property in model.Model.GetEntityTypes().SelectMany(t => t.GetProperties()))
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
