using Microsoft.AspNetCore.DataProtection.EntityFrameworkCore;
using Microsoft.AspNetCore.Identity.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Storage.ValueConversion;
using Registry.Rules.Facts;

namespace Registry.Records;

/// <summary>
/// The schema. EF Core serves single records, simple reads and the migrations; intake, status computation and
/// aggregates use SQL on the same <see cref="Npgsql.NpgsqlDataSource"/>. Each table is described by the
/// <see cref="IEntityTypeConfiguration{TEntity}"/> beside its record, a slice's in the slice.
/// </summary>
public sealed class RegistryDb(DbContextOptions<RegistryDb> options) : IdentityUserContext<Person, Guid>(options),
    IDataProtectionKeyContext
{
    public DbSet<Installation> Installations => Set<Installation>();

    /// <summary>Named by the library that keeps its keys here.</summary>
    public DbSet<DataProtectionKey> DataProtectionKeys => Set<DataProtectionKey>();
    public DbSet<Site> Sites => Set<Site>();
    public DbSet<PersonPlace> PersonPlaces => Set<PersonPlace>();
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
    public DbSet<DiagnosisDetail> DiagnosisDetails => Set<DiagnosisDetail>();
    public DbSet<DiagnosisThreshold> DiagnosisThresholds => Set<DiagnosisThreshold>();
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
    public DbSet<AppointmentRecord> Appointments => Set<AppointmentRecord>();
    public DbSet<FamilyContactRecord> FamilyContacts => Set<FamilyContactRecord>();
    public DbSet<CareRecord> Care => Set<CareRecord>();
    public DbSet<CorrectionRecord> Corrections => Set<CorrectionRecord>();
    public DbSet<CareAgreement> CareAgreements => Set<CareAgreement>();
    public DbSet<ClaimDecision> ClaimDecisions => Set<ClaimDecision>();
    public DbSet<UnmatchedCount> UnmatchedCounts => Set<UnmatchedCount>();
    public DbSet<InfantStatusRow> InfantStatuses => Set<InfantStatusRow>();
    public DbSet<InfantWork> InfantWork => Set<InfantWork>();
    public DbSet<LossHistory> LossHistories => Set<LossHistory>();
    public DbSet<WorkPutOff> WorkPutOffs => Set<WorkPutOff>();
    public DbSet<SearchRecord> Searches => Set<SearchRecord>();
    public DbSet<WorkClosing> WorkClosings => Set<WorkClosing>();
    public DbSet<ClinicOpening> ClinicOpenings => Set<ClinicOpening>();
    public DbSet<BookedOpening> BookedOpenings => Set<BookedOpening>();
    public DbSet<HandOff> HandOffs => Set<HandOff>();
    public DbSet<HandOffEvent> HandOffEvents => Set<HandOffEvent>();
    public DbSet<AnswerRequest> AnswerRequests => Set<AnswerRequest>();
    public DbSet<PolicyRecord> Policies => Set<PolicyRecord>();

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
        builder.ApplyConfigurationsFromAssembly(typeof(RegistryDb).Assembly);

        // Every coded value is stored as its code (Registry.Rules.Facts.Codes), readable in psql and in an export.
        foreach (var property in builder.Model.GetEntityTypes().SelectMany(t => t.GetProperties()))
        {
            var type = Nullable.GetUnderlyingType(property.ClrType) ?? property.ClrType;
            if (type.IsEnum)
                property.SetValueConverter((ValueConverter)Activator.CreateInstance(typeof(CodeConverter<>).MakeGenericType(type))!);
        }
    }

    private sealed class InfantIdConverter() : ValueConverter<InfantId, Guid>(id => id.Value, value => new(value));
    private sealed class SiteIdConverter() : ValueConverter<SiteId, Guid>(id => id.Value, value => new(value));
    private sealed class SubmissionIdConverter() : ValueConverter<SubmissionId, Guid>(id => id.Value, value => new(value));
    private sealed class CodeConverter<T>() : ValueConverter<T, string>(v => Codes.Of(v), v => Codes.Parse<T>(v))
        where T : struct, Enum;
}
