using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Operations.Alarms;
using Registry.Operations.Checks;
using Registry.Platform.Jobs;

namespace Registry.Operations;

/// <summary>What runs in the background: each job's last run and next, failures, workers; and starting one now.</summary>
[Authorize(Policy = Permissions.Administrator)]
public sealed class OperationsModel(
    ListJobs list, FindProblems problems, CheckInstallation check, RunRecurringJob run, AuditActs audit, TimeProvider time) : PageModel
{
    public IReadOnlyList<JobLine> Jobs { get; private set; } = [];
    public IReadOnlyList<JobRun> Failures { get; private set; } = [];
    public IReadOnlyList<CheckLine> Checks { get; private set; } = [];
    public OperationsState State { get; private set; } = new(null, 0, null);
    public IReadOnlyList<WorkerLine> Workers { get; private set; } = [];
    public DateTimeOffset Now => time.GetUtcNow();
    public bool AnyWorker => Workers.Any(w => w.IsAlive(Now));

    public async Task OnGetAsync(CancellationToken ct)
    {
        Jobs = await list.AllAsync(ct);
        Failures = await list.FailuresAsync(ct);
        Workers = list.Workers();
        State = await problems.StateAsync(ct);
        Checks = await check.RunAsync(reachOthers: false, ct);
    }

    public async Task<IActionResult> OnPostRunAsync(string id)
    {
        if (run.Start(id) is null) return NotFound();
        await audit.RecordAsync(AccessKind.JobStarted, note: id);
        TempData["Done"] = OperationsWords.Queued;
        return RedirectToPage();
    }
}
