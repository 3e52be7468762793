using Registry.Rules;

namespace Registry.Ui;

// Every due step and every flag has its own words: a test walks them.
public static partial class Words
{
    public static string Of(DueStep step) => step switch
    {
        DueStep.Screen => "First screen",
        DueStep.CompleteScreen => "Complete the screen",
        DueStep.Rescreen => "Outpatient rescreen",
        DueStep.RepeatScreen => "Repeat screen after readmission",
        DueStep.AbrScreen => "Screen with ABR",
        DueStep.CmvTest => "CMV test",
        DueStep.DiagnosticEvaluation => "Diagnostic evaluation",
        DueStep.CompleteDiagnosis => "Complete the diagnosis",
        DueStep.MiddleEarReevaluation => "Evaluate again after treatment of the middle ear",
        DueStep.ReferToIntervention => "Refer to Part C",
        DueStep.EnrolInIntervention => "Enroll in early intervention",
        DueStep.ServicePlan => "IFSP meeting",
        DueStep.AmplificationFitting => "Amplification fitting",
        DueStep.SurveillanceEvaluation => "Surveillance evaluation",
        DueStep.Monitoring => "Monitoring evaluation",
        DueStep.DevelopmentalAssessment => "Developmental assessment",
        DueStep.HandOff => "Hand-off to the other state",
        _ => throw new ArgumentOutOfRangeException(nameof(step), step, "No words for this step."),
    };

    /// <summary>What somebody who is about to call must know.</summary>
    public const StatusFlags SaidBesideTheNextStep =
        StatusFlags.Inpatient | StatusFlags.HomeBirthNotContacted | StatusFlags.RescreenedTooOften | StatusFlags.OaeAfterAbrRefer
            | StatusFlags.OaeOnlyInNicu | StatusFlags.DiagnosisToBeConfirmed;

    /// <summary>What is said beside a screen that was done, in the same breath.</summary>
    public const StatusFlags SaidBesideTheScreen =
        StatusFlags.OaeOnlyInNicu | StatusFlags.AbrBeforeReliableAge | StatusFlags.OaeAfterAbrRefer;

    /// <summary>What is said beside a milestone of the record, by its name.</summary>
    public static StatusFlags Beside(string milestone) => milestone switch
    {
        "Screened" => SaidBesideTheScreen,
        "Enrolled" => StatusFlags.DiagnosisToBeConfirmed,
        _ => StatusFlags.None,
    };

    public static string Of(StatusFlags flag) => flag switch
    {
        StatusFlags.OaeOnlyInNicu => "OAE only after a long NICU stay",
        StatusFlags.OverScreened => "Screened more often than advised",
        StatusFlags.ScreenedEarly => "Screened very early",
        StatusFlags.UnderSurveillance => "Under surveillance",
        StatusFlags.RescreenNotBothEars => "Rescreen did not test both ears",
        StatusFlags.FactsConflict => "Reported facts conflict",
        StatusFlags.OaeAfterAbrRefer => "OAE pass after an ABR refer",
        StatusFlags.RescreenedTooOften => "Rescreened more than once",
        StatusFlags.RepeatScreenNeeded => "Repeat screen needed after readmission",
        StatusFlags.Inpatient => "Inpatient",
        StatusFlags.AbrBeforeReliableAge => "ABR before it is reliable",
        StatusFlags.DiagnosisToBeConfirmed => "Diagnosis to be confirmed",
        StatusFlags.HomeBirthNotContacted => "Home birth, family not contacted",
        _ => throw new ArgumentOutOfRangeException(nameof(flag), flag, "No words for this flag."),
    };

    /// <summary>What a flag means for the reader.</summary>
    public static string Caution(StatusFlags flag) => flag switch
    {
        StatusFlags.OaeOnlyInNicu =>
            "Otoacoustic emissions alone can miss a neural hearing loss. After a longer stay in the NICU, screening uses the auditory "
            + "brainstem response.",
        StatusFlags.OverScreened => "Repeating until a pass raises the chance that a real hearing loss passes by accident.",
        StatusFlags.ScreenedEarly => "In the first hours fluid and debris make a refer more likely.",
        StatusFlags.UnderSurveillance => "The screen was passed, and a risk indicator calls for a later evaluation.",
        StatusFlags.RescreenNotBothEars => "A rescreen tests both ears in one session, whatever each ear's first result was.",
        StatusFlags.FactsConflict => "Two reported facts cannot both be true. A person should look at the sources.",
        StatusFlags.OaeAfterAbrRefer =>
            "The ear referred by auditory brainstem response and then passed emissions. That does not clear the refer: emissions miss a "
            + "neural hearing loss.",
        StatusFlags.RescreenedTooOften =>
            "One rescreen is offered. A pass at a further one does not erase the failed one: a diagnostic evaluation stays due.",
        StatusFlags.RepeatScreenNeeded =>
            "Readmitted in the first month with a condition that raises the risk of hearing loss, and not screened since.",
        StatusFlags.Inpatient => "In hospital by what was reported: not counted as lost to follow-up, and the family is not written to.",
        StatusFlags.AbrBeforeReliableAge =>
            "The result that counts was measured at a post-menstrual age at which auditory brainstem response is not reliable yet.",
        StatusFlags.DiagnosisToBeConfirmed =>
            "In early intervention on a provisional finding. It counts as enrolled; the evaluation has still to be brought to an end.",
        StatusFlags.HomeBirthNotContacted => "Born at home, not screened by the deadline, and no attempt to reach the family is recorded.",
        _ => throw new ArgumentOutOfRangeException(nameof(flag), flag, "No words for this flag."),
    };
}
