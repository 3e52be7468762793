using Registry.Records;

namespace Registry.Intake;

/// <summary>The table a reported fact is stored in.</summary>
internal static class FactTables
{
    /// <summary>Every table a row can write a fact to.</summary>
    public static IReadOnlyList<string> All { get; } = [.. Enum.GetValues<RowKind>().Select(Of)];

    public static string Of(RowKind kind) => kind switch
    {
        RowKind.Birth => "births",
        RowKind.Screening => "screenings",
        RowKind.Diagnosis => "diagnoses",
        RowKind.Intervention => "interventions",
        RowKind.Death => "deaths",
        RowKind.Move => "moves",
        RowKind.Transfer => "transfers",
        RowKind.Refusal => "refusals",
        RowKind.Risk => "risks",
        RowKind.Contact => "contacts",
        RowKind.Readmission => "readmissions",
        _ => "medical_delays",
    };

    public static string Of(ReportedFact fact) => Of(fact switch
    {
        ReportedBirth => RowKind.Birth,
        ReportedScreening => RowKind.Screening,
        ReportedDiagnosis => RowKind.Diagnosis,
        ReportedIntervention => RowKind.Intervention,
        ReportedDeath => RowKind.Death,
        ReportedMove => RowKind.Move,
        ReportedTransfer => RowKind.Transfer,
        ReportedRefusal => RowKind.Refusal,
        ReportedRisk => RowKind.Risk,
        ReportedContact => RowKind.Contact,
        ReportedReadmission => RowKind.Readmission,
        _ => RowKind.MedicalDelay,
    });
}
