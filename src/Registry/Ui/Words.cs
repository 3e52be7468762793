using System.Globalization;
using System.Text;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Ui;

/// <summary>How coded values read on screen. A value without an entry of its own reads as its name in plain words.</summary>
public static class Words
{
    public static string Of(MilestoneState state) => state switch
    {
        MilestoneState.Met => "In time",
        MilestoneState.Late => "Done late",
        MilestoneState.Missed => "Overdue",
        MilestoneState.Pending => "Pending",
        MilestoneState.Excluded => "Excluded",
        _ => "Not required",
    };

    public static string Of(ScreeningConclusion conclusion) => conclusion switch
    {
        ScreeningConclusion.NotScreened => "Not screened",
        ScreeningConclusion.Incomplete => "Incomplete: an ear has no valid result",
        ScreeningConclusion.Passed => "Pass, both ears",
        ScreeningConclusion.ReferredOneEar => "Refer, one ear",
        _ => "Refer, both ears",
    };

    public static string Of(EarResult result) => result switch
    {
        EarResult.NotScreened => "Not screened",
        EarResult.NoValidResult => "No valid result",
        _ => result.ToString(),
    };

    public static string Of(HearingConclusion conclusion) => conclusion switch
    {
        HearingConclusion.NotEvaluated => "Not evaluated",
        HearingConclusion.InProcess => "Evaluation in process",
        HearingConclusion.Normal => "Normal hearing",
        HearingConclusion.NonPermanentLoss => "Loss, not permanent",
        _ => "Permanent loss",
    };

    public static string Of(DueStep step) => step switch
    {
        DueStep.Screen => "First screen",
        DueStep.CompleteScreen => "Complete the screen",
        DueStep.Rescreen => "Outpatient rescreen",
        DueStep.RepeatScreen => "Repeat screen after readmission",
        DueStep.DiagnosticEvaluation => "Diagnostic evaluation",
        DueStep.CompleteDiagnosis => "Complete the diagnosis",
        DueStep.ReferToIntervention => "Refer to early intervention",
        DueStep.EnrolInIntervention => "Enrol in early intervention",
        DueStep.ServicePlan => "Service plan meeting",
        DueStep.AmplificationFitting => "Amplification fitting",
        _ => "Surveillance evaluation",
    };

    public static string Of(LossState loss) => loss switch
    {
        LossState.LostToFollowUp => "Lost to follow-up",
        LossState.LostToDocumentation => "Lost to documentation",
        _ => "Not lost",
    };

    public static string Of(Role role) => role switch
    {
        Role.SiteManager => "Site manager",
        _ => role.ToString(),
    };

    public static string Of(ContactOutcome outcome) => outcome switch
    {
        ContactOutcome.NoResponse => "No response",
        ContactOutcome.UnableToContact => "Unable to contact",
        ContactOutcome.AppointmentMade => "Appointment made",
        _ => "Reached",
    };

    public static string Of(SiteKind kind) => kind switch
    {
        SiteKind.BirthCenter => "Birth center",
        SiteKind.AudiologyClinic => "Audiology clinic",
        SiteKind.InterventionProgram => "Intervention program",
        SiteKind.VitalRecords => "Vital-records office",
        _ => kind.ToString(),
    };

    public static string Of(StatusFlags flag) => flag switch
    {
        StatusFlags.OaeOnlyInNicu => "OAE only after intensive care",
        StatusFlags.OverScreened => "Screened more often than advised",
        StatusFlags.ScreenedEarly => "Screened very early",
        StatusFlags.UnderSurveillance => "Under surveillance",
        StatusFlags.RescreenNotBothEars => "Rescreen did not test both ears",
        StatusFlags.FactsConflict => "Reported facts conflict",
        _ => "",
    };

    /// <summary>What a flag means for the reader.</summary>
    public static string Caution(StatusFlags flag) => flag switch
    {
        StatusFlags.OaeOnlyInNicu =>
            "Otoacoustic emissions alone can miss a neural loss. After a longer stay in intensive care, screening uses the auditory "
            + "brainstem response.",
        StatusFlags.OverScreened => "Repeating until a pass raises the chance that a real loss passes by accident.",
        StatusFlags.ScreenedEarly => "In the first hours fluid and debris make a refer more likely.",
        StatusFlags.UnderSurveillance => "The screen was passed, and a risk indicator calls for a later evaluation.",
        StatusFlags.RescreenNotBothEars => "A rescreen tests both ears in one session, whatever each ear's first result was.",
        StatusFlags.FactsConflict => "Two reported facts cannot both be true. A person should look at the sources.",
        _ => "",
    };

    /// <summary>The single flags set in a value.</summary>
    public static IEnumerable<StatusFlags> Each(StatusFlags flags) =>
        Enum.GetValues<StatusFlags>().Where(f => f != StatusFlags.None && flags.HasFlag(f));

    public static string Of(ScreeningMethod method) => method switch
    {
        ScreeningMethod.Unknown => "Method not reported",
        _ => method.ToString().ToUpperInvariant(), // the trade's abbreviations
    };

    /// <summary>What was found for an ear: "Sensorineural, moderately severe".</summary>
    public static string Found(EarFinding finding, LossDegree degree) =>
        Of(finding) + (degree == LossDegree.NotStated ? "" : ", " + Of(degree).ToLowerInvariant());

    /// <summary>Any other coded value: its name in plain words ("EnrolInIntervention" → "Enrol in intervention").</summary>
    public static string Of(Enum value) => Sentence(value.ToString());

    /// <summary>The code of a value whose type is known only at run time, spelled as <see cref="Codes"/> spells it.</summary>
    public static string Code(Enum value) => Sentence(value.ToString()).ToLowerInvariant().Replace(' ', '_');

    public static string Date(DateOnly? date) => date?.ToString("d MMM yyyy", CultureInfo.InvariantCulture) ?? "—";

    /// <summary>The program's time zone, in which moments are shown; set once when the program starts.</summary>
    public static TimeZoneInfo Zone { get; set; } = TimeZoneInfo.Utc;

    public static string Time(DateTimeOffset? at) =>
        at is { } moment ? TimeZoneInfo.ConvertTime(moment, Zone).ToString("d MMM yyyy, HH:mm", CultureInfo.InvariantCulture) : "—";

    public static string Count(long n) => n.ToString("#,0", CultureInfo.InvariantCulture);

    /// <summary>"1 infant", "2 infants".</summary>
    public static string Count(long n, string one, string? many = null) => $"{Count(n)} {(n == 1 ? one : many ?? one + "s")}";

    /// <summary>"EnrolInIntervention" → "Enrol in intervention".</summary>
    public static string Sentence(string name)
    {
        var text = new StringBuilder(name.Length + 8);
        foreach (var c in name)
        {
            if (char.IsUpper(c) && text.Length > 0) text.Append(' ').Append(char.ToLowerInvariant(c));
            else text.Append(c);
        }

        return text.ToString();
    }
}
