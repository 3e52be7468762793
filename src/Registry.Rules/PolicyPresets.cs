using Registry.Rules.Facts;

namespace Registry.Rules;

// The documents a program can start from.
public sealed partial record Policy
{
    /// <summary>The policy a new registry starts with: JCIH 2019's "no later than" in calendar months.</summary>
    public static Policy Default { get; } = new()
    {
        Version = "2026-1",
        EffectiveFrom = new DateOnly(2020, 1, 1),
        Source = "JCIH Year 2019 Position Statement (JEHDI 4(2):1-44); JCIH 2007 (Pediatrics 120:898)",
    };

    /// <summary>For programs that meet 1-3-6 and strive for 1-2-3 (JCIH 2019, F).</summary>
    public static Policy OneTwoThree { get; } = Default with
    {
        Version = "2026-1 (1-2-3)",
        Source = "JCIH Year 2019 Position Statement (JEHDI 4(2):1-44): programs that meet 1-3-6 strive for 1-2-3",
        DiagnosisDeadline = new(2, DeadlineUnit.Months),
        InterventionDeadline = new(3, DeadlineUnit.Months),
    };

    /// <summary>The national survey's boundary: before 1, 3 and 6 months (CDC, F).</summary>
    public static Policy CdcStrict { get; } = Default with
    {
        Version = "2026-1 (before 1-3-6)",
        Source = "CDC Hearing Screening and Follow-up Survey: before 1, before 3 and before 6 months",
        ScreeningDeadline = new(1, DeadlineUnit.Months, Inclusive: false),
        DiagnosisDeadline = new(3, DeadlineUnit.Months, Inclusive: false),
        InterventionDeadline = new(6, DeadlineUnit.Months, Inclusive: false),
        RescreenUntil = new(1, DeadlineUnit.Months, Inclusive: false),
    };

    /// <summary>The date the three milestones are counted from.</summary>
    internal DateOnly CountFrom(in Birth birth) =>
        CorrectForPrematurity && birth.GestationWeeks is { } weeks and < 37 ? birth.Date.AddDays(7 * (40 - weeks)) : birth.Date;
}
