using Registry.Rules.Facts;

namespace Registry.Rules.Screening;

/// <summary>Whether a test belongs to the birth admission.</summary>
public static class DeriveStage
{
    /// <summary>
    /// The reported stage where the policy trusts it; otherwise by the end of the birth admission (discharge, or NICU
    /// discharge, as reported); with neither, an infant in the NICU is still in the admission, a home birth has none, and
    /// others by age at the test.
    /// </summary>
    public static ScreeningStage Of(in ScreeningTest test, in Birth birth, Policy policy)
    {
        if (policy.TrustReportedStage && test.Stage != ScreeningStage.Unstated) return test.Stage;
        return InBirthAdmission(test.PerformedAt, birth, policy) ? ScreeningStage.BirthAdmission : ScreeningStage.OutpatientRescreen;
    }

    private static bool InBirthAdmission(DateTime performedAt, in Birth birth, Policy policy)
    {
        if ((birth.DischargedOn ?? birth.NicuDischargedOn) is { } discharged) return DateOnly.FromDateTime(performedAt) <= discharged;
        if (birth.NicuAdmittedOn is not null) return true;
        if (birth.Place == BirthPlace.Home) return false;
        return Age.Hours(birth, performedAt) is { } hours
            ? hours <= policy.BirthAdmissionHours
            : Age.Days(birth.Date, DateOnly.FromDateTime(performedAt)) * 24 <= policy.BirthAdmissionHours;
    }
}
