using Microsoft.EntityFrameworkCore;
using Microsoft.EntityFrameworkCore.Metadata.Builders;
using Registry.Rules.Facts;

namespace Registry.Records;

/// <summary>What a row reports: every kind of fact (Facts/FactKinds.cs), and which record numbers are one infant's.</summary>
public enum RowKind
{
    Birth, Screening, Diagnosis, Intervention, Death, Move, Transfer, Refusal, Risk, Contact, Readmission, MedicalDelay,
    Merge, Appointment, FamilyContact, Care
}

/// <summary>What a row does with what its site said before about the same thing. <c>Report</c>: states it. <c>Correct</c>: states it
/// anew, whole, in place of what was said. <c>Retract</c>: takes it back; it stays readable.</summary>
public enum RowAction { Report, Correct, Retract }

/// <summary>
/// What every reported fact carries: when it was recorded, when (if ever) it stopped being what we hold to be true,
/// who said it and in which row. Facts are never updated or deleted: a correction closes one and adds another,
/// so that any figure can be computed as it was known on a past date.
/// </summary>
public abstract class Fact
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public SiteId SiteId { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public DateTimeOffset? SupersededAt { get; set; }
    public SubmissionId? SubmissionId { get; init; }
    public int? RowNumber { get; init; }
}

/// <summary>The stable identity facts hang on. It has no attributes of its own: they are facts.</summary>
public sealed class Infant
{
    public InfantId Id { get; init; }
    public DateTimeOffset CreatedAt { get; init; }
}

public enum IdentifierKind { RecordNumber, CardId }

/// <summary>A record number (unique within its site) or a blood-spot card id (unique in the region).</summary>
public sealed class InfantIdentifier : Fact
{
    public IdentifierKind Kind { get; init; }
    public required string Value { get; init; }
}

/// <summary>A row closed a fact of its own site: which fact, and whether by stating it anew or by taking it back. Not a fact about the
/// infant, so it opens no record and is in no figure; kept like one. Superseded when a coordinator took the closing back.</summary>
public sealed class CorrectionRecord
{
    public Guid Id { get; init; }
    public InfantId InfantId { get; init; }
    public SiteId SiteId { get; init; }
    public DateTimeOffset RecordedAt { get; init; }
    public DateTimeOffset? SupersededAt { get; init; }
    public SubmissionId? SubmissionId { get; init; }
    public int? RowNumber { get; init; }
    public RowKind Kind { get; init; }
    public Guid FactId { get; init; }
    public RowAction Action { get; init; }
}

public sealed class BirthRecord : Fact
{
    public DateOnly BornOn { get; init; }
    public TimeOnly? BornAt { get; init; }
    public BirthPlace Place { get; init; }
    public Sex Sex { get; init; }
    public int? Plurality { get; init; }
    public int? BirthOrder { get; init; }
    public int? GestationWeeks { get; init; }
    public int? BirthWeightGrams { get; init; }
    public DateOnly? NicuAdmittedOn { get; init; }
    public DateOnly? NicuDischargedOn { get; init; }
    public DateOnly? DischargedOn { get; init; }
    public string? InfantGivenName { get; init; }
    public string? InfantFamilyName { get; init; }
    public string? MotherGivenName { get; init; }
    public string? MotherFamilyName { get; init; }
    public DateOnly? MotherBornOn { get; init; }

    /// <summary>Mother's names in the form they are compared in (Registry.Rules.Linkage.NormaliseName).</summary>
    public string? MotherFamilyKey { get; init; }
    public string? MotherGivenKey { get; init; }
    public string? County { get; init; }

    /// <summary>State of residence, as reported.</summary>
    public string? ResidenceState { get; init; }
    public string? Insurance { get; init; }
    public string? Language { get; init; }
    public string? RaceEthnicity { get; init; }
    public string? MaternalEducation { get; init; }

    /// <summary>Encrypted (Platform/Encryption), and what they are looked up by.</summary>
    public string? ContactEmail { get; init; }
    public string? ContactPhone { get; init; }
    public string? ContactEmailKey { get; init; }
    public string? ContactPhoneKey { get; init; }
    public bool EmailConsent { get; init; }

    /// <summary>Who cares for the child after discharge, as the birth site stated it (LOINC 62324-9). Encrypted.</summary>
    public string? PostDischargeProvider { get; init; }
}

public sealed class ScreeningRecord : Fact
{
    public Ear Ear { get; init; }
    public ScreeningMethod Method { get; init; }
    public ScreeningOutcome Outcome { get; init; }
    public ScreeningReason Reason { get; init; }
    public ScreeningStage Stage { get; init; }

    /// <summary>Local date and time of the test.</summary>
    public DateTime PerformedAt { get; init; }
    public string? Instrument { get; init; }
    public string? Probe { get; init; }
    public string? Screener { get; init; }
}

/// <summary>What the instrument measured in a test: holds as long as its screening does. Written once with it, never edited; units are
/// those of <see cref="TestDetail"/>.</summary>
public sealed class ScreeningDetail
{
    public Guid ScreeningId { get; init; }
    public string? Stimulus { get; init; }
    public decimal? DurationSeconds { get; init; }
    public int? ArtefactsRejected { get; init; }
    public decimal? EarCanalVolumeMl { get; init; }
    public decimal? AmbientNoiseDb { get; init; }
}

/// <summary>One frequency band of a test's detail.</summary>
public sealed class ScreeningBand
{
    public Guid ScreeningId { get; init; }
    public int FrequencyHz { get; init; }
    public decimal? LevelDbSpl { get; init; }
    public decimal? NoiseDbSpl { get; init; }
    public decimal? SnrDb { get; init; }
}

public sealed class DiagnosisRecord : Fact
{
    public DateOnly EvaluatedOn { get; init; }
    public EarFinding RightFinding { get; init; }
    public EarFinding LeftFinding { get; init; }
    public LossDegree RightDegree { get; init; }
    public LossDegree LeftDegree { get; init; }
    public bool Provisional { get; init; }
    public bool? Permanent { get; init; }

    /// <summary>The day the audiologist wants to see the child again.</summary>
    public DateOnly? NextOn { get; init; }
    public string? Evaluator { get; init; }
    public string? EvaluationPlace { get; init; }
}

internal sealed class ConfigureDiagnosis() : ConfigureFact<DiagnosisRecord>("diagnoses");

public sealed class InterventionRecord : Fact
{
    public InterventionKind Kind { get; init; }
    public DateOnly HappenedOn { get; init; }
}

internal sealed class ConfigureIntervention() : ConfigureFact<InterventionRecord>("interventions");

public sealed class DeathRecord : Fact
{
    public DateOnly DiedOn { get; init; }
}

internal sealed class ConfigureDeath() : ConfigureFact<DeathRecord>("deaths");

public sealed class MoveRecord : Fact
{
    public MoveKind Kind { get; init; }
    public DateOnly MovedOn { get; init; }
}

internal sealed class ConfigureMove() : ConfigureFact<MoveRecord>("moves");

public sealed class TransferRecord : Fact
{
    public DateOnly TransferredOn { get; init; }
    public SiteId ToSiteId { get; init; }
}

internal sealed class ConfigureTransfer() : ConfigureFact<TransferRecord>("transfers")
{
    public override void Configure(EntityTypeBuilder<TransferRecord> builder)
    {
        base.Configure(builder);
        builder.HasIndex(t => t.ToSiteId).HasFilter(Current);
    }
}

public sealed class RefusalRecord : Fact
{
    public PathStep Step { get; init; }
    public DateOnly RefusedOn { get; init; }
    public DateOnly? RevokedOn { get; init; }
    public string? RefusedBy { get; init; }
}

internal sealed class ConfigureRefusal() : ConfigureFact<RefusalRecord>("refusals");

public sealed class RiskRecord : Fact
{
    public RiskIndicatorKind Kind { get; init; }
    public DateOnly NotedOn { get; init; }
}

internal sealed class ConfigureRisk() : ConfigureFact<RiskRecord>("risks");

public sealed class ReadmissionRecord : Fact
{
    public DateOnly AdmittedOn { get; init; }
    public DateOnly? DischargedOn { get; init; }

    /// <summary>With a condition that raises the risk of hearing loss.</summary>
    public bool RaisesRisk { get; init; }
}

internal sealed class ConfigureReadmission() : ConfigureFact<ReadmissionRecord>("readmissions");

/// <summary>A documented medical reason why a step cannot be done for now.</summary>
public sealed class MedicalDelayRecord : Fact
{
    public PathStep Step { get; init; }
    public DateOnly FromOn { get; init; }
    public DateOnly? EndedOn { get; init; }
}

internal sealed class ConfigureMedicalDelay() : ConfigureFact<MedicalDelayRecord>("medical_delays");
