using Hangfire.Common;
using Hangfire.Server;

namespace Registry.Platform.Jobs;

/// <summary>
/// What a job failed with is kept by its kind alone: the job library stores the error's text in its own tables, writes it into the reason
/// of a retry and into the log, and the text may quote data. The outermost of the filters: the library never sees the error itself, since
/// even a failed state that another replaces goes into its history.
/// </summary>
internal sealed class KeepNoMessages : JobFilterAttribute, IServerFilter
{
    public void OnPerforming(PerformingContext context)
    {
    }

    public void OnPerformed(PerformedContext context)
    {
        var error = context.Exception is JobPerformanceException { InnerException: { } inner } ? inner : context.Exception;
        // A job stopped with its worker goes back into the queue.
        if (error is null or OperationCanceledException or JobAbortedException) return;
        throw new JobFailedException(RecordJobRuns.Describe(error));
    }

    /// <summary>The kind of error, and where; no trace and no text of its own.</summary>
    private sealed class JobFailedException(string what) : Exception(what);
}
