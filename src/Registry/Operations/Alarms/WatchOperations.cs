using Hangfire;
using Registry.Platform.Jobs;

namespace Registry.Operations.Alarms;

/// <summary>Looks for problems every five minutes. A worker that does not run cannot say so: <see cref="WatchWorkers"/> does.</summary>
public sealed class WatchOperations(FindProblems find, TellProblems tell)
{
    private static readonly ProblemKind[] Kinds = [.. Enum.GetValues<ProblemKind>().Where(k => k != ProblemKind.NoWorker)];

    [OneAtATime]
    [AutomaticRetry(Attempts = 0)]
    public async Task<string> RunAsync(CancellationToken ct)
    {
        var problems = (await find.RunAsync(ct)).Where(p => p.Kind != ProblemKind.NoWorker).ToList();
        var told = await tell.RunAsync(Kinds, problems, ct);
        return $"{problems.Count} {(problems.Count == 1 ? "problem" : "problems")}, {told} told by mail";
    }
}
