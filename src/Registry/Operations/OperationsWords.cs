using System.Globalization;
using Registry.Operations.Alarms;
using Registry.Operations.Checks;
using Registry.Platform.Jobs;
using Registry.Ui;

namespace Registry.Operations;

/// <summary>What the operations page says.</summary>
public static class OperationsWords
{
    public const string Queued = "It is queued and starts as soon as a worker is free. Reload the page to see how it went.";

    public const string NoWaiting = "Nothing waits to be worked through.";

    public static string Waiting(OperationsState state, DateTimeOffset now) => state.OldestWaiting is not { } oldest ? NoWaiting
        : $"{Words.Count(state.Waiting, "submission")} to be worked through, the oldest for {Age(now - oldest)}.";

    public static string LastBackup(OperationsState state) =>
        state.LastBackup is { } at ? $"Last backup: {Words.Time(at)}." : "No backup was ever taken.";

    /// <summary>A state in a word with its sign: color alone tells nothing.</summary>
    public static string Of(CheckState state) => state switch
    {
        CheckState.Sound => "✓ sound",
        CheckState.Attention => "△ attention",
        _ => "▲ broken",
    };

    /// <summary>A problem as a line of <c>check</c>.</summary>
    public static CheckLine Line(Problem problem) => problem.Kind switch
    {
        ProblemKind.QueueOld => CheckLine.Broken("Queue", $"submissions wait since {Words.Time(problem.Since)}",
            "See that a worker runs and what its log says."),
        ProblemKind.NoWorker => CheckLine.Broken("Worker", "none runs: submissions of many rows wait, no status follows the calendar",
            "Start one (Role: worker or both)."),
        ProblemKind.JobFailing => CheckLine.Broken("Job", $"{problem.Of} failed at its last run, {Words.Time(problem.Since)}",
            "See the operations page and the worker's log; it is tried again by itself."),
        ProblemKind.DiskLow => CheckLine.Broken("Disk", "little room is left", "Free some: when it is full nothing is taken in any more."),
        _ => CheckLine.Attention("Backup", problem.Since is { } last ? $"the last was taken {Words.Time(last)}" : "none was ever taken",
            "Run the backup verb, every night by the machine's own timer."),
    };

    public static string AlarmLine(Problem problem)
    {
        var line = Line(problem);
        return $"- {line.Subject}: {line.Says}. {line.Do}";
    }

    public static string AlarmSubject(int problems) => problems == 1 ? "Registry: a problem" : $"Registry: {problems} problems";

    public static string AlarmText(IReadOnlyList<string> lines) =>
        $"The registry noticed:\n\n{string.Join('\n', lines)}\n\nEach problem is told once, until it is gone and comes back. "
        + "The operations page shows how it is now.\n";

    private static string Age(TimeSpan age) => age switch
    {
        { TotalHours: >= 48 } => $"{(int)age.TotalDays} days",
        { TotalMinutes: >= 120 } => $"{(int)age.TotalHours} hours",
        { TotalMinutes: >= 2 } => $"{(int)age.TotalMinutes} minutes",
        _ => "a moment",
    };

    /// <summary>How long a run took; nothing while it runs.</summary>
    public static string Duration(JobRun run) => (run.FinishedAt - run.StartedAt) switch
    {
        null => "",
        { TotalSeconds: >= 60 } took => string.Create(CultureInfo.InvariantCulture, $"{took.TotalMinutes:0.0} min"),
        { } took => string.Create(CultureInfo.InvariantCulture, $"{took.TotalSeconds:0.0} s"),
    };
}
