using Registry.Records;

namespace Registry.Facts;

/// <summary>The table a reported fact is stored in.</summary>
internal static class FactTables
{
    /// <summary>Every kind of row that states a fact: all but those that only put record numbers together.</summary>
    public static IReadOnlyList<RowKind> Kinds { get; } = [.. Enum.GetValues<RowKind>().Where(k => k != RowKind.Merge)];

    /// <summary>Every table a row can write a fact to.</summary>
    public static IReadOnlyList<string> All { get; } = [.. Kinds.Select(Of)];

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
