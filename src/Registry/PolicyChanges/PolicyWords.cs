using Registry.Rules;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.PolicyChanges;

/// <summary>What the pages of the policy and its drafts say.</summary>
public static class PolicyWords
{
    /// <summary>Begins with the field.</summary>
    public static string Of(VersionProblem problem) => problem switch
    {
        VersionProblem.NotWhole(var field) => $"{field}: a whole number is needed.",
        VersionProblem.NotANumber(var field) => $"{field}: a number is needed.",
        VersionProblem.NameTaken => "version: there is a version of this name.",
        VersionProblem.TooLong(var field, var most) => $"{field}: longer than {most} characters.",
        VersionProblem.TooEarly(var earliest) => $"effectiveFrom: the first day possible is {earliest:yyyy-MM-dd}.",
        _ => ((VersionProblem.Document)problem).Said,
    };

    public static string Of(DraftAnswer answer) => answer.Outcome switch
    {
        DraftOutcome.Scheduled => "The version is in force from its first day. Until then it can be withdrawn.",
        DraftOutcome.TakenBack => "Taken back. Nothing changes by this draft; it stays readable.",
        DraftOutcome.DecidedAlready => "This draft was decided already.",
        DraftOutcome.NotCounted => "What it changes is not counted yet.",
        DraftOutcome.InForce => "This version is in force or was: change it by a new one.",
        _ => string.Join(" ", answer.Problems.Select(Of)),
    };

    /// <summary>"1 month after birth, that day included".</summary>
    public static string Of(Deadline deadline) =>
        $"{Words.Count(deadline.Amount, deadline.Unit == DeadlineUnit.Months ? "month" : "day")} after birth, that day "
            + $"{(deadline.Inclusive ? "included" : "not included")}";

    public static string Of(SourceMark mark) => mark switch
    {
        SourceMark.Found => "found in the source",
        SourceMark.FromMemory => "from memory, not verified",
        SourceMark.Inferred => "inferred from published figures",
        SourceMark.Ours => "our own choice",
        _ => "common practice, no source",
    };

    /// <summary>A choice that differs between two versions.</summary>
    public static string Of(PolicyDifference difference) => difference.Indicator is { } indicator
        ? $"Surveillance: {Words.Within(Words.Of((Enum)indicator))}" : difference.Title;

    /// <summary>A coded value of an aspect of a status; none is "nothing".</summary>
    public static string Of(StatusAspect aspect, string code) => code.Length == 0 ? "nothing" : aspect switch
    {
        StatusAspect.Screening => Words.Of(Codes.Parse<ScreeningConclusion>(code)),
        StatusAspect.Screened or StatusAspect.Diagnosed or StatusAspect.Enrolled => Words.Of(Codes.Parse<MilestoneState>(code)),
        StatusAspect.Hearing => Words.Of(Codes.Parse<HearingConclusion>(code)),
        StatusAspect.Loss => Words.Of(Codes.Parse<LossState>(code)),
        _ => Words.Of(Codes.Parse<DueStep>(code)),
    };

    public static string Of(StatusAspect aspect) =>
        aspect == StatusAspect.Loss ? "Lost to follow-up or documentation" : Words.Of((Enum)aspect);

    /// <summary>The head of the infants behind a number.</summary>
    /// <param name="change">Null: any change.</param>
    /// <param name="infants">How many there are; of none, the codes may be anybody's invention.</param>
    public static string Behind(StatusChange? change, int infants)
    {
        if (change is not { } one) return "Infants whose status would change";
        var aspect = Of(one.Aspect);
        if (one.From.Length + one.To.Length == 0) return $"{aspect} would differ";
        return infants == 0 ? "No such change" : $"{aspect}: {Of(one.Aspect, one.From)} → {Of(one.Aspect, one.To)}";
    }
}
