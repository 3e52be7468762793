using Registry.Rules.Facts;

namespace Registry.Facts;

/// <summary>What a row says, without who said it when. Two equal ones are the same fact.</summary>
public abstract record ReportedFact
{
    /// <summary>The day it happened, to be compared with the birth.</summary>
    public abstract DateOnly On { get; }
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
}

public sealed record ReportedDiagnosis(DateOnly EvaluatedOn, EarFinding Right, EarFinding Left) : ReportedFact
{
    public LossDegree RightDegree { get; init; }
    public LossDegree LeftDegree { get; init; }
    public bool Provisional { get; init; }
    public bool? Permanent { get; init; }

    public override DateOnly On => EvaluatedOn;
}

public sealed record ReportedIntervention(InterventionKind Kind, DateOnly HappenedOn) : ReportedFact
{
    public override DateOnly On => HappenedOn;
}

public sealed record ReportedDeath(DateOnly DiedOn) : ReportedFact
{
    public override DateOnly On => DiedOn;
}

public sealed record ReportedMove(MoveKind Kind, DateOnly MovedOn) : ReportedFact
{
    public override DateOnly On => MovedOn;
}

public sealed record ReportedTransfer(Guid ToSiteId, DateOnly TransferredOn) : ReportedFact
{
    public override DateOnly On => TransferredOn;
}

public sealed record ReportedRefusal(PathStep Step, DateOnly RefusedOn) : ReportedFact
{
    public DateOnly? RevokedOn { get; init; }
    public string? RefusedBy { get; init; }

    public override DateOnly On => RefusedOn;
}

/// <summary><see cref="NotedOn"/> null: present at birth.</summary>
public sealed record ReportedRisk(RiskIndicatorKind Kind, DateOnly? NotedOn) : ReportedFact
{
    public override DateOnly On => NotedOn ?? DateOnly.MaxValue;
}

public sealed record ReportedContact(PathStep Step, DateOnly AttemptedOn, ContactOutcome Outcome) : ReportedFact
{
    public override DateOnly On => AttemptedOn;
}

public sealed record ReportedReadmission(DateOnly AdmittedOn, bool RaisesRisk) : ReportedFact
{
    public DateOnly? DischargedOn { get; init; }

    public override DateOnly On => AdmittedOn;
}

/// <summary>The infant of <c>record_number</c> was known under another number of the same site before. Attaches the numbers; it is no
/// fact of its own, and never makes one infant of two.</summary>
public sealed record ReportedMerge(string PriorRecordNumber) : ReportedFact
{
    public override DateOnly On => DateOnly.MaxValue;
}

public sealed record ReportedMedicalDelay(PathStep Step, DateOnly FromOn) : ReportedFact
{
    public DateOnly? EndedOn { get; init; }

    public override DateOnly On => FromOn;
}
