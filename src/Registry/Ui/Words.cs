using System.Globalization;
using System.Text;
using Registry.Access;
using Registry.Records;
using Registry.Rules;
using Registry.Rules.Facts;

namespace Registry.Ui;

/// <summary>How coded values read on screen. A value without an entry of its own reads as its name in plain words.</summary>
public static partial class Words
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
        HearingConclusion.NonPermanentLoss => "Hearing loss, not permanent",
        _ => "Permanent hearing loss",
    };

    public static string Of(LossState loss) => loss switch
    {
        LossState.LostToFollowUp => "Lost to follow-up",
        LossState.LostToDocumentation => "Lost to documentation",
        _ => "Not lost",
    };

    public static string Of(Role role) => role switch
    {
        Role.VitalRecords => "Vital-records office",
        _ => Of((Enum)role),
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

    /// <summary>Any other coded value: its name in plain words ("NotEligible" → "Not eligible"), as the trade spells them.</summary>
    public static string Of(Enum value) => value switch
    {
        EarFinding finding => Of(finding),
        InterventionKind happened => Of(happened),
        _ => Sentence(value.ToString()),
    };

    /// <summary>The code of a value whose type is known only at run time, spelled as <see cref="Codes"/> spells it.</summary>
    public static string Code(Enum value) => Spaced(value.ToString()).ToLowerInvariant().Replace(' ', '_');

    /// <summary>Which infants a viewer sees: "the infants ...".</summary>
    public static string Seen(Viewer viewer) => viewer switch
    {
        { IsCoordinator: true } => "of the whole region",
        { IsCaseWorker: true, Counties.Count: > 0 } => $"assigned to you and those of {List(viewer.Counties)}",
        { IsCaseWorker: true } => "assigned to you",
        _ => "your site reported on or was handed",
    };

    public static string Count(long n) => n.ToString("#,0", CultureInfo.InvariantCulture);

    /// <summary>"1 infant", "2 infants".</summary>
    public static string Count(long n, string one, string? many = null) => $"{Count(n)} {(n == 1 ? one : many ?? one + "s")}";

    /// <summary>"Lind", "Lind and Mere", "Lind, Mere and Tarn".</summary>
    public static string List(IReadOnlyList<string> items) =>
        items.Count < 2 ? string.Concat(items) : $"{string.Join(", ", items.SkipLast(1))} and {items[^1]}";

    /// <summary>A telephone number as a phone dials it, without an extension; null when it holds too few digits to be one.</summary>
    public static string? Dial(string phone)
    {
        var number = phone.TakeWhile(c => !char.IsLetter(c)).Where(char.IsAsciiDigit).ToArray();
        return number.Length < 5 ? null : (phone.TrimStart().StartsWith('+') ? "+" : "") + new string(number);
    }

    /// <summary>"EnrolInIntervention" → "Enroll in intervention".</summary>
    public static string Sentence(string name) => AsTheTradeSpells(Spaced(name));

    private static string Spaced(string name)
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
