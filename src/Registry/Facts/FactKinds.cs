using System.Collections.Frozen;

namespace Registry.Facts;

/// <summary>The one table of fact kinds. A kind that is not here is not written, read, exported or seen by; DEVELOPERS.md says how to add
/// one.</summary>
public static class FactKinds
{
    /// <summary>Every kind of row that states a fact (all but those that only put record numbers together), births first. The export
    /// writes them in this order.</summary>
    public static IReadOnlyList<FactKind> All { get; } =
    [
        ReportedBirth.Table(),
        ReportedScreening.Table(),
        ReportedDiagnosis.Table(),
        ReportedIntervention.Table(),
        ReportedDeath.Table(),
        ReportedMove.Table(),
        ReportedTransfer.Table(),
        ReportedRefusal.Table(),
        ReportedRisk.Table(),
        ReportedReadmission.Table(),
        ReportedMedicalDelay.Table(),
        ReportedContact.Table(),
        ReportedAppointment.Table(),
        ReportedFamilyContact.Table(),
        ReportedCare.Table(),
    ];

    /// <summary>Record numbers and card ids are kept like facts, and no row states them alone.</summary>
    public const string Identifiers = "infant_identifiers";

    /// <summary>Every table a row can write to that says something of an infant.</summary>
    public static IReadOnlyList<string> Tables { get; } = [Identifiers, .. All.Select(k => k.Table)];

    /// <summary>Each column that holds a site which sees the infant as long as the row opens it.</summary>
    public static IReadOnlyList<SeeingSite> SeenBy { get; } = [new(Identifiers, "site_id"), .. All.SelectMany(k => k.SeenBy)];

    private static readonly FrozenDictionary<Type, FactKind> ByReported = All.ToFrozenDictionary(k => k.Reported);

    /// <exception cref="KeyNotFoundException">The fact is in no table.</exception>
    public static FactKind Of(ReportedFact fact) => ByReported[fact.GetType()];
}
