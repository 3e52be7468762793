using Registry.Rules.Facts;

namespace Registry.Rules;

/// <summary>How sure we are of a definition's source: found in it, from memory and unverified, common practice without one, inferred
/// by us from published figures, our own choice.</summary>
public enum SourceMark { Found, FromMemory, CommonPractice, Inferred, Ours }

/// <summary>A rule that can ask for a step, with what a reader needs to judge it.</summary>
public sealed record Rule(string Id, string Title, string Text, string Source, SourceMark Mark);

/// <summary>Every rule a due names, by id.</summary>
public static class RuleCatalogue
{
    private const string Jcih2007 = "JCIH Year 2007 Position Statement, Pediatrics 2007;120:898";
    private const string Jcih2019 = "JCIH Year 2019 Position Statement, JEHDI 2019;4(2):1-44";

    public static Rule ScreenByOneMonth { get; } = new("screening.deadline", "Screened by one month",
        "Both ears of every infant are screened no later than one month of age.", $"{Jcih2007}; {Jcih2019}", SourceMark.Found);

    public static Rule CompleteScreen { get; } = new("screening.complete", "Both ears need a valid result",
        "A screen is complete when both ears have a pass or a refer. An attempt without a valid result (noise, no seal) is neither.",
        Jcih2019, SourceMark.Found);

    public static Rule Rescreen { get; } = new("screening.rescreen", "Rescreen both ears once",
        "After a refer, one valid outpatient rescreen of both ears in one session, whatever the first result of each ear, as soon as "
            + "possible and before one month. A refer is not a diagnosis.",
        $"{Jcih2019} (secondary)", SourceMark.Found);

    public static Rule AbrInNicu { get; } = new("screening.abr-in-nicu", "ABR-based screen after a long NICU stay",
        "More than five days in the NICU: only ABR-based screening, because OAE alone misses neural hearing loss.",
        Jcih2007, SourceMark.Found);

    public static Rule ScreenAfterReadmission { get; } = new("screening.readmission", "Repeat screen at readmission",
        "Readmitted in the first month with a condition that raises the risk of hearing loss: repeat the screen before discharge.",
        Jcih2007, SourceMark.Found);

    public static Rule AbrForIndicator { get; } = new("screening.abr-for-indicator", "ABR-based screen for a risk indicator",
        "Zika, with laboratory evidence: ABR-based screen by one month after a pass with OAE alone.",
        $"{Jcih2019}, table 1 (from memory); CDC interim guidance 2017 asks the same for laboratory findings alone", SourceMark.Found);

    public static Rule AbrAfterReadmission { get; } = new("screening.readmission-abr", "ABR-based screen at readmission",
        "Readmitted in the first month with exchange transfusion, culture-positive meningitis or sepsis: "
            + "these can harm the auditory nerve, "
            + "so the screen is repeated with ABR before discharge; OAE does not answer.",
        $"{Jcih2007}: repeat at readmission (found), and OAE misses neural hearing loss (found); which conditions, from memory",
        SourceMark.FromMemory);

    public static Rule CmvTest { get; } = new("screening.cmv-test", "Targeted CMV test",
        "Where the program's law asks for it, an infant who referred is tested for congenital CMV within 21 days.",
        "The law of several states; the policy says whether, and from when the days count", SourceMark.Found);

    public static Rule DiagnosisByThreeMonths { get; } = new("diagnosis.deadline", "Diagnosis by three months",
        "An infant who does not pass has a diagnostic audiologic evaluation no later than three months of age.",
        $"{Jcih2007}; {Jcih2019}", SourceMark.Found);

    public static Rule NicuReferToAudiology { get; } = new("diagnosis.nicu", "Refer in the NICU goes to audiology",
        "After more than five days in the NICU a refer goes directly to an audiologist, not to an outpatient rescreen.",
        Jcih2007, SourceMark.Found);

    public static Rule CompleteDiagnosis { get; } = new("diagnosis.complete", "Bring the diagnosis to an end",
        "A provisional or inconclusive evaluation keeps the step open until both ears have a final finding "
            + "or a permanent hearing loss is confirmed.",
        "Common practice, no source", SourceMark.CommonPractice);

    public static Rule MiddleEarAgain { get; } = new("diagnosis.middle-ear", "Evaluate again after treatment of the middle ear",
        "A conductive hearing loss not said to be permanent does not close the diagnosis: the ear is evaluated again after treatment.",
        "10.1002/ohn.306: of infants who failed the screen with effusion 56 % never got a definitive result "
            + "and 11 % had a permanent hearing "
            + "loss; the time is policy", SourceMark.Found);

    public static Rule Monitoring { get; } = new("monitoring.permanent-loss", "Monitoring of a permanent hearing loss",
        "A child with permanent hearing loss is evaluated again every six months to age three. The policy in force may set other times.",
        $"{Jcih2007} (from memory)", SourceMark.FromMemory);

    public static Rule AudiologistsDate { get; } = new("monitoring.audiologist", "The audiologist's own date",
        "The day on which the audiologist wants to see the child again stands before every table.",
        "Common practice, no source", SourceMark.CommonPractice);

    public static Rule HandOff { get; } = new("residence.hand-off", "Hand-off to the other state",
        "Of a child who moved away, or is no resident, the program of the other state is told what is open, and the hand-off is recorded.",
        "Common practice, no source", SourceMark.CommonPractice);

    public static Rule ReferralInSevenDays { get; } = new("intervention.referral", "Referral within seven days",
        "Referral to early intervention as soon as possible, no more than seven calendar days after identification.",
        "34 CFR 303.303(a)(2)(i)", SourceMark.Found);

    public static Rule ServicePlanInFortyFiveDays { get; } = new("intervention.service-plan", "Service plan within 45 days",
        "The meeting on the individualized family service plan (IFSP) is held within 45 days of the receipt of the referral. Days of "
            + "exceptional family circumstances, or without consent despite repeated attempts, do not count.", "34 CFR 303.310",
        SourceMark.Found);

    public static Rule InterventionBySixMonths { get; } = new("intervention.deadline", "Early intervention by six months",
        "An infant with permanent hearing loss is in early intervention no later than six months of age; when it is found after a passed "
            + "screen or a normal evaluation, within 45 days of the finding if that is later.",
        $"{Jcih2007}; {Jcih2019}; the 45 days from memory", SourceMark.Found);

    public static Rule AmplificationInOneMonth { get; } = new("amplification.fitting", "Fitting within one month",
        "Where the family chooses amplification, it is fitted within one month of confirmation.", Jcih2007, SourceMark.Found);

    public static Rule DevelopmentalAssessment { get; } = new("intervention.development", "Developmental assessment by 12 months",
        "The development of a child with permanent hearing loss is first assessed, with a standardized instrument, by 12 months of age; "
            + "of one found later, within 45 days (ours). The policy in force may set another age.",
        $"{Jcih2007} (from memory)", SourceMark.FromMemory);

    /// <summary>One rule per risk indicator, indexed by <see cref="RiskIndicatorKind"/>.</summary>
    public static IReadOnlyList<Rule> Surveillance { get; } =
    [
        Indicator(RiskIndicatorKind.FamilyHistory, "Family history of permanent childhood hearing loss", "by 9 months"),
        Indicator(RiskIndicatorKind.NicuOverFiveDays, "More than five days in the NICU", "by 9 months"),
        Indicator(RiskIndicatorKind.ExchangeTransfusion, "Hyperbilirubinemia with exchange transfusion", "by 9 months"),
        Indicator(RiskIndicatorKind.Aminoglycosides, "Aminoglycosides for more than five days", "by 9 months"),
        Indicator(RiskIndicatorKind.Asphyxia, "Asphyxia or hypoxic-ischemic encephalopathy", "by 9 months"),
        Indicator(RiskIndicatorKind.Ecmo, "ECMO", "no later than 3 months after it, then every 12 months to school age"),
        Indicator(RiskIndicatorKind.InUteroInfection, "In-utero infection (herpes, rubella, syphilis, toxoplasmosis)", "by 9 months"),
        Indicator(RiskIndicatorKind.CongenitalCmv, "Congenital cytomegalovirus",
            "no later than 3 months after it, then every 12 months to age 3"),
        Indicator(RiskIndicatorKind.ZikaLaboratoryAndClinical, "Zika, laboratory and clinical evidence",
            "ABR at 4 to 6 months, or behavioral by 9 months"),
        Indicator(RiskIndicatorKind.ZikaLaboratoryOnly, "Zika, laboratory evidence only", "ABR at 4 to 6 months"),
        Indicator(RiskIndicatorKind.Craniofacial, "Craniofacial or temporal bone anomaly, microcephaly, hydrocephaly", "by 9 months"),
        Indicator(RiskIndicatorKind.Syndrome, "Syndrome associated with hearing loss", "by 9 months"),
        Indicator(RiskIndicatorKind.Meningitis, "Culture-positive meningitis or encephalitis",
            "no later than 3 months after it, then every 12 months to school age"),
        Indicator(RiskIndicatorKind.HeadTraumaOrChemotherapy, "Significant head trauma or chemotherapy", "no later than 3 months after it"),
        Indicator(RiskIndicatorKind.CaregiverConcern, "Caregiver concern", "at once"),
        Indicator(RiskIndicatorKind.OtherInUteroInfection, "Other in-utero infection", "by 9 months"),
        Indicator(RiskIndicatorKind.Sepsis, "Culture-positive sepsis",
            "no later than 3 months after it, then every 12 months to school age"),
        Indicator(RiskIndicatorKind.Mastoiditis, "Mastoiditis", "no later than 3 months after it"),
        Indicator(RiskIndicatorKind.OtotoxicMedication, "Ototoxic medication, not further described", "by 9 months"),
        Indicator(RiskIndicatorKind.NeurodegenerativeDisorder, "Neurodegenerative disorder",
            "by 9 months, then every 12 months to school age"),
        Indicator(RiskIndicatorKind.PhysicalFindings, "Physical findings associated with hearing loss", "by 9 months"),
    ];

    /// <summary>Why, for a due: same index.</summary>
    internal static readonly string[] SurveillanceWhy = [.. Surveillance.Select(r =>
        $"risk indicator: {r.Title}; a pass does not exclude later hearing loss")];

    public static IReadOnlyList<Rule> All { get; } =
    [
        ScreenByOneMonth, CompleteScreen, Rescreen, AbrInNicu, ScreenAfterReadmission, AbrAfterReadmission, AbrForIndicator, CmvTest,
        DiagnosisByThreeMonths, NicuReferToAudiology, CompleteDiagnosis, MiddleEarAgain, Monitoring, AudiologistsDate, HandOff,
        ReferralInSevenDays, ServicePlanInFortyFiveDays, InterventionBySixMonths, AmplificationInOneMonth, DevelopmentalAssessment,
        .. Surveillance,
    ];

    private static readonly Dictionary<string, Rule> ById = All.ToDictionary(r => r.Id, StringComparer.Ordinal);

    /// <summary>The rule with this id; null when there is none.</summary>
    public static Rule? Find(string id) => ById.GetValueOrDefault(id);

    private static Rule Indicator(RiskIndicatorKind kind, string title, string when) =>
        new($"surveillance.{Codes.Of(kind).Replace('_', '-')}", title,
            $"Diagnostic evaluation {when}. The policy in force may set other times.",
            $"{Jcih2019}, table 1 (indicator found; time from memory)", SourceMark.FromMemory);
}
