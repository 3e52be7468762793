using Hangfire.Common;
using Hangfire.States;

namespace Registry.Platform.Jobs;

/// <summary>
/// What a job failed with is kept by its kind alone: the job library stores the error's text in its own tables, writes it into the reason
/// of a retry and into the log, and the text may quote data. Asked before the library's own filters, which read it.
/// </summary>
internal sealed class KeepNoMessages : JobFilterAttribute, IElectStateFilter
{
    public void OnStateElection(ElectStateContext context)
    {
        if (context.CandidateState is FailedState { Exception: not JobFailedException } failed)
        {
            var kind = RecordJobRuns.Describe(failed.Exception);
            context.CandidateState = new FailedState(new JobFailedException(kind)) { Reason = failed.Reason };
        }
    }

    /// <summary>The kind of error, and where; no trace and no text of its own.</summary>
    private sealed class JobFailedException(string what) : Exception(what);
}
