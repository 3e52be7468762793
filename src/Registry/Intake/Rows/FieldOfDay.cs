using Registry.Facts;

namespace Registry.Intake.Rows;

/// <summary>The column that states the day a fact happened.</summary>
public static class FieldOfDay
{
    public static Field Of(ReportedFact fact) => KindOfRow.Of(FactKinds.Of(fact).Kind).Day;
}
