namespace Registry.Rules.Tests.Disclosure;

/// <summary>How the released lines lie within each other, from their definitions in docs/measures/national-survey.md.</summary>
internal static class ReleasedDefinitions
{
    public static LiesWithin[] All { get; } =
    [
        // "Screened (both ears have a result that counts) … and for everyone not screened one reason"; lost is three of the reasons.
        new("births", false, "screening.screened", "screening.lost"),

        // "Before 1 month, of screened"; "pass and not pass by the most recent screen".
        new("screening.screened", false, "screening.before_1_month"),
        new("screening.screened", false, "screening.not_pass"),

        // "Diagnosis, of those who did not pass: no permanent loss, permanent loss … one reason for everyone else."
        new("screening.not_pass", false, "diagnosis.documented", "diagnosis.lost"),
        new("diagnosis.documented", false, "diagnosis.before_3_months"),

        // "Intervention, of those with permanent loss however found: enrolled, before 6 months; one reason for everyone else."
        // Who has a diagnosis is lost neither before screening nor before diagnosis.
        new("births", false, "loss", "screening.lost", "diagnosis.lost"),
        new("loss", false, "intervention.enrolled", "intervention.lost"),
        new("intervention.enrolled", false, "intervention.before_6_months"),
    ];
}
