using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Submissions;

/// <summary>What the pages of submissions say beside their headings.</summary>
public static class SubmissionWords
{
    /// <summary>What to call it: a system's submission has no file name.</summary>
    public static string Name(SubmissionStatus s) => s.FileName ?? $"{IntakeWords.Of(s.Format)}, by the site's system";

    public static string State(SubmissionStatus s)
    {
        var state = Codes.Parse<SubmissionState>(s.State);
        return IntakeWords.Of(state) + (state == SubmissionState.Processing ? $", {s.RowsDone} done" : "");
    }

    public static string Received(SubmissionStatus s, string site) =>
        $"{site}, received {Words.Time(s.ReceivedAt)}{(s.FinishedAt is { } done ? $", finished {Words.Time(done)}" : "")}";

    public static string Progress(SubmissionStatus s) =>
        $"{Words.Count(s.RowsDone)} of {Words.Count(s.Rows, "row")} done. The file is stored: you may leave this page.";

    /// <summary>Where a problem of a file stands; row 0 is the file itself.</summary>
    public static string Place(FileProblem problem) => problem.Row == 0 ? "file" : Words.Count(problem.Row);

    /// <summary>What happened to rows of what kind.</summary>
    public static string Of(ReasonCount reason) =>
        $"{IntakeWords.Of(reason.Outcome)}, {(reason.Kind is { } kind ? Words.Of((Enum)kind).ToLowerInvariant() : "unknown kind")}";
}
