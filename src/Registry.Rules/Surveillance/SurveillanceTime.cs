using Registry.Rules.Facts;

namespace Registry.Rules.Surveillance;

/// <summary>
/// When one risk indicator asks for a diagnostic evaluation. Exactly one of <paramref name="ByAgeMonths"/> (age) and
/// <paramref name="WithinMonths"/> (after the indicator; 0 is at once) is set.
/// </summary>
public sealed record SurveillanceTime(RiskIndicatorKind Kind, int? ByAgeMonths = null, int? WithinMonths = null)
{
    /// <summary>Evaluations at a younger age do not answer this indicator.</summary>
    public int? NotBeforeAgeMonths { get; init; }

    /// <summary>Again this many months after each evaluation; null for once.</summary>
    public int? EveryMonths { get; init; }

    /// <summary>Nothing is due at this age or later; null for no end.</summary>
    public int? UntilAgeYears { get; init; }

    /// <summary>An ABR-based screen is needed by this age as well.</summary>
    public int? AbrScreenByAgeMonths { get; init; }

    /// <summary>One evaluation that found normal hearing in both ears ends it; only said of an indicator that does not come
    /// again.</summary>
    public bool OneNormalEnds { get; init; } = true;

    /// <summary>An ABR-based screen that both ears passed answers it.</summary>
    public bool AbrPassEnds { get; init; }

    /// <summary>Start of school (M): the statement says "school age", without a number.</summary>
    private const int SchoolAge = 5;

    /// <summary>JCIH Year 2019 Position Statement, table 1 (indicators F; times M).</summary>
    public static SurveillanceTime[] Jcih2019 =>
    [
        Once(RiskIndicatorKind.FamilyHistory),
        Once(RiskIndicatorKind.NicuOverFiveDays),
        Once(RiskIndicatorKind.ExchangeTransfusion),
        Once(RiskIndicatorKind.Aminoglycosides),
        Once(RiskIndicatorKind.Asphyxia),
        new(RiskIndicatorKind.Ecmo, WithinMonths: 3) { EveryMonths = 12, OneNormalEnds = false, UntilAgeYears = SchoolAge },
        Once(RiskIndicatorKind.InUteroInfection),
        new(RiskIndicatorKind.CongenitalCmv, WithinMonths: 3) { EveryMonths = 12, OneNormalEnds = false, UntilAgeYears = 3 },
        new(RiskIndicatorKind.ZikaLaboratoryAndClinical, ByAgeMonths: 9)
        {
            NotBeforeAgeMonths = 4, AbrScreenByAgeMonths = 1, UntilAgeYears = SchoolAge,
        },
        new(RiskIndicatorKind.ZikaLaboratoryOnly, ByAgeMonths: 6)
        {
            NotBeforeAgeMonths = 4, AbrScreenByAgeMonths = 1, UntilAgeYears = SchoolAge,
        },
        Once(RiskIndicatorKind.Craniofacial),
        Once(RiskIndicatorKind.Syndrome),
        new(RiskIndicatorKind.Meningitis, WithinMonths: 3) { EveryMonths = 12, OneNormalEnds = false, UntilAgeYears = SchoolAge },
        new(RiskIndicatorKind.HeadTraumaOrChemotherapy, WithinMonths: 3),
        new(RiskIndicatorKind.CaregiverConcern, WithinMonths: 0),
        Once(RiskIndicatorKind.OtherInUteroInfection),
        new(RiskIndicatorKind.Sepsis, WithinMonths: 3) { EveryMonths = 12, OneNormalEnds = false, UntilAgeYears = SchoolAge },
        new(RiskIndicatorKind.Mastoiditis, WithinMonths: 3),
        Once(RiskIndicatorKind.OtotoxicMedication),
        new(RiskIndicatorKind.NeurodegenerativeDisorder, ByAgeMonths: 9)
        {
            EveryMonths = 12, OneNormalEnds = false, UntilAgeYears = SchoolAge,
        },
        Once(RiskIndicatorKind.PhysicalFindings),
    ];

    /// <summary>The same, with Zika as the CDC's interim guidance of 2017 has it: ABR by one month after an OAE pass, and no later
    /// evaluation once both ears passed ABR.</summary>
    public static SurveillanceTime[] WithZikaOfCdc2017 =>
    [
        .. Jcih2019.Select(t => t.Kind is RiskIndicatorKind.ZikaLaboratoryAndClinical or RiskIndicatorKind.ZikaLaboratoryOnly
            ? t with { AbrPassEnds = true } : t),
    ];

    /// <summary>Present before birth: its time runs from birth, whenever it was noted.</summary>
    internal static bool IsCongenital(RiskIndicatorKind kind) => kind == RiskIndicatorKind.CongenitalCmv;

    internal IEnumerable<string> Problems()
    {
        if (ByAgeMonths is null == WithinMonths is null) yield return "byAgeMonths: set either this or withinMonths.";
        if (ByAgeMonths is < 1 or > 120) yield return $"byAgeMonths: {ByAgeMonths} is not between 1 and 120.";
        if (WithinMonths is < 0 or > 60) yield return $"withinMonths: {WithinMonths} is not between 0 and 60.";
        if (NotBeforeAgeMonths is < 0 or > 120) yield return $"notBeforeAgeMonths: {NotBeforeAgeMonths} is not between 0 and 120.";
        if (NotBeforeAgeMonths > ByAgeMonths) yield return "notBeforeAgeMonths: it is after byAgeMonths.";
        if (EveryMonths is < 1 or > 60) yield return $"everyMonths: {EveryMonths} is not between 1 and 60.";
        if (UntilAgeYears is < 1 or > 18) yield return $"untilAgeYears: {UntilAgeYears} is not between 1 and 18.";
        if (EveryMonths is null && !OneNormalEnds) yield return "everyMonths: one evaluation does not end it, so say when the next is due.";
        if (AbrScreenByAgeMonths is < 1 or > 12) yield return $"abrScreenByAgeMonths: {AbrScreenByAgeMonths} is not between 1 and 12.";
    }

    private static SurveillanceTime Once(RiskIndicatorKind kind) =>
        new(kind, ByAgeMonths: 9) { UntilAgeYears = SchoolAge };
}
