using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake;

/// <summary>A row that passed its checks: who it is about, and what it says.</summary>
public sealed class ReportedRow
{
    public required RowKind Kind { get; init; }
    public RowAction Action { get; init; }
    public string? RecordNumber { get; init; }
    public string? CardId { get; init; }
    public OnlyIfUnknown OnlyIfUnknown { get; init; }

    /// <summary>Where a vital-records office says the infant was born; null: at the site that reports.</summary>
    public Guid? BirthSiteId { get; init; }
    public required Identity Identity { get; init; }

    /// <summary>What is stated; for a retraction only what names it (<see cref="CompareFacts.Names"/>).</summary>
    public required ReportedFact Fact { get; init; }
}

/// <summary>Identifiers of a birth row of which none may be known yet: if one is, the row changes nothing (a conditional create).</summary>
[Flags]
public enum OnlyIfUnknown
{
    None = 0,
    RecordNumber = 1,
    CardId = 2,
}

/// <summary>What a row says, without who said it when. Two equal ones are the same fact.</summary>
public abstract record ReportedFact
{
    /// <summary>The day it happened, to be compared with the birth.</summary>
    public abstract DateOnly On { get; }

    /// <summary>The column that states <see cref="On"/>.</summary>
    public abstract Field OnField { get; }
}

public sealed record ReportedBirth(DateOnly BornOn, Sex Sex) : ReportedFact
{
    public TimeOnly? BornAt { get; init; }
    public BirthPlace? Place { get; init; }
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
    public string? County { get; init; }
    public string? Insurance { get; init; }
    public string? Language { get; init; }
    public string? RaceEthnicity { get; init; }
    public string? MaternalEducation { get; init; }
    public string? ContactEmail { get; init; }
    public string? ContactPhone { get; init; }
    public bool? EmailConsent { get; init; }

    public override DateOnly On => BornOn;
    public override Field OnField => Field.BirthDate;

    /// <summary>This birth as restated by a later row: what the row states replaces, what it leaves out stays.</summary>
    public ReportedBirth RestatedBy(ReportedBirth row) => new(row.BornOn, row.Sex == Sex.Unknown ? Sex : row.Sex)
    {
        BornAt = row.BornAt ?? BornAt,
        Place = row.Place ?? Place,
        Plurality = row.Plurality ?? Plurality,
        BirthOrder = row.BirthOrder ?? BirthOrder,
        GestationWeeks = row.GestationWeeks ?? GestationWeeks,
        BirthWeightGrams = row.BirthWeightGrams ?? BirthWeightGrams,
        NicuAdmittedOn = row.NicuAdmittedOn ?? NicuAdmittedOn,
        NicuDischargedOn = row.NicuDischargedOn ?? NicuDischargedOn,
        DischargedOn = row.DischargedOn ?? DischargedOn,
        InfantGivenName = row.InfantGivenName ?? InfantGivenName,
        InfantFamilyName = row.InfantFamilyName ?? InfantFamilyName,
        MotherGivenName = row.MotherGivenName ?? MotherGivenName,
        MotherFamilyName = row.MotherFamilyName ?? MotherFamilyName,
        MotherBornOn = row.MotherBornOn ?? MotherBornOn,
        County = row.County ?? County,
        Insurance = row.Insurance ?? Insurance,
        Language = row.Language ?? Language,
        RaceEthnicity = row.RaceEthnicity ?? RaceEthnicity,
        MaternalEducation = row.MaternalEducation ?? MaternalEducation,
        ContactEmail = row.ContactEmail ?? ContactEmail,
        ContactPhone = row.ContactPhone ?? ContactPhone,
        EmailConsent = row.EmailConsent ?? EmailConsent,
    };
}

public sealed record ReportedScreening(Ear Ear, ScreeningOutcome Outcome, DateTime PerformedAt) : ReportedFact
{
    public ScreeningMethod Method { get; init; }
    public ScreeningReason Reason { get; init; }
    public ScreeningStage Stage { get; init; }
    public string? Instrument { get; init; }
    public string? Probe { get; init; }
    public string? Screener { get; init; }
    public TestDetail? Detail { get; init; }

    public override DateOnly On => DateOnly.FromDateTime(PerformedAt);
    public override Field OnField => Field.PerformedAt;
}

public sealed record ReportedDiagnosis(DateOnly EvaluatedOn, EarFinding Right, EarFinding Left) : ReportedFact
{
    public LossDegree RightDegree { get; init; }
    public LossDegree LeftDegree { get; init; }
    public bool Provisional { get; init; }
    public bool? Permanent { get; init; }

    public override DateOnly On => EvaluatedOn;
    public override Field OnField => Field.EvaluatedOn;
}

public sealed record ReportedIntervention(InterventionKind Kind, DateOnly HappenedOn) : ReportedFact
{
    public override DateOnly On => HappenedOn;
    public override Field OnField => Field.HappenedOn;
}

public sealed record ReportedDeath(DateOnly DiedOn) : ReportedFact
{
    public override DateOnly On => DiedOn;
    public override Field OnField => Field.DiedOn;
}

public sealed record ReportedMove(MoveKind Kind, DateOnly MovedOn) : ReportedFact
{
    public override DateOnly On => MovedOn;
    public override Field OnField => Field.MovedOn;
}

public sealed record ReportedTransfer(Guid ToSiteId, DateOnly TransferredOn) : ReportedFact
{
    public override DateOnly On => TransferredOn;
    public override Field OnField => Field.TransferredOn;
}

public sealed record ReportedRefusal(PathStep Step, DateOnly RefusedOn) : ReportedFact
{
    public DateOnly? RevokedOn { get; init; }
    public string? RefusedBy { get; init; }

    public override DateOnly On => RefusedOn;
    public override Field OnField => Field.RefusedOn;
}

/// <summary><see cref="NotedOn"/> null: present at birth.</summary>
public sealed record ReportedRisk(RiskIndicatorKind Kind, DateOnly? NotedOn) : ReportedFact
{
    public override DateOnly On => NotedOn ?? DateOnly.MaxValue;
    public override Field OnField => Field.NotedOn;
}

public sealed record ReportedContact(PathStep Step, DateOnly AttemptedOn, ContactOutcome Outcome) : ReportedFact
{
    public override DateOnly On => AttemptedOn;
    public override Field OnField => Field.AttemptedOn;
}

public sealed record ReportedReadmission(DateOnly AdmittedOn, bool RaisesRisk) : ReportedFact
{
    public DateOnly? DischargedOn { get; init; }

    public override DateOnly On => AdmittedOn;
    public override Field OnField => Field.AdmittedOn;
}

/// <summary>The infant of <c>record_number</c> was known under another number of the same site before. Attaches the numbers; it is no
/// fact of its own, and never makes one infant of two.</summary>
public sealed record ReportedMerge(string PriorRecordNumber) : ReportedFact
{
    public override DateOnly On => DateOnly.MaxValue;
    public override Field OnField => Field.PriorRecordNumber;
}

public sealed record ReportedMedicalDelay(PathStep Step, DateOnly FromOn) : ReportedFact
{
    public DateOnly? EndedOn { get; init; }

    public override DateOnly On => FromOn;
    public override Field OnField => Field.FromOn;
}
