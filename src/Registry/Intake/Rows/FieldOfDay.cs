using Registry.Facts;

namespace Registry.Intake.Rows;

/// <summary>The column that states the day a fact happened.</summary>
public static class FieldOfDay
{
    public static Field Of(ReportedFact fact) => fact switch
    {
        ReportedBirth => Field.BirthDate,
        ReportedScreening => Field.PerformedAt,
        ReportedDiagnosis => Field.EvaluatedOn,
        ReportedIntervention => Field.HappenedOn,
        ReportedDeath => Field.DiedOn,
        ReportedMove => Field.MovedOn,
        ReportedTransfer => Field.TransferredOn,
        ReportedRefusal => Field.RefusedOn,
        ReportedRisk => Field.NotedOn,
        ReportedContact => Field.AttemptedOn,
        ReportedReadmission => Field.AdmittedOn,
        ReportedMerge => Field.PriorRecordNumber,
        _ => Field.FromOn,
    };
}
