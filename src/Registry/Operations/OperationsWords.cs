using System.Globalization;
using Registry.Platform.Jobs;

namespace Registry.Operations;

/// <summary>What the operations page says.</summary>
public static class OperationsWords
{
    public const string Queued = "It is queued and starts as soon as a worker is free. Reload the page to see how it went.";

    /// <summary>How long a run took; nothing while it runs.</summary>
    public static string Duration(JobRun run) => (run.FinishedAt - run.StartedAt) switch
    {
        null => "",
        { TotalSeconds: >= 60 } took => string.Create(CultureInfo.InvariantCulture, $"{took.TotalMinutes:0.0} min"),
        { } took => string.Create(CultureInfo.InvariantCulture, $"{took.TotalSeconds:0.0} s"),
    };
}
