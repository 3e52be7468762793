using Registry.Rules.Facts;

namespace Registry.Rules.Screening;

/// <summary>Whether a test belongs to the birth admission.</summary>
internal static class DeriveStage
{
    /// <summary>The reported stage where the policy trusts it; otherwise by the birth admission.</summary>
    public static ScreeningStage Of(in ScreeningTest test, in BirthStay stay, in Birth birth, Policy policy)
    {
        if (policy.TrustReportedStage && test.Stage != ScreeningStage.Unstated) return test.Stage;
        return stay.Holds(test.PerformedAt, birth, policy) ? ScreeningStage.BirthAdmission : ScreeningStage.OutpatientRescreen;
    }
}
