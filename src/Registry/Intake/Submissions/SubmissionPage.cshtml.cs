using System.Runtime.CompilerServices;
using System.Text;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Registry.Ui;

namespace Registry.Intake.Submissions;

/// <summary>One submission: its progress, its rows by outcome and reason, and what can be taken home: the raw file, the rejected
/// rows.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class SubmissionPageModel(ReadSubmissions read, SiteChoices sites, AuditReads audit, Viewer viewer) : PageModel
{
    private const int PageRows = 100;

    [FromRoute(Name = "id")] public SubmissionId Id { get; set; }
    [FromQuery(Name = "outcome")] public string? Outcome { get; set; }
    [FromQuery(Name = "kind")] public string? Kind { get; set; }
    [FromQuery(Name = "held")] public string? Held { get; set; }
    [FromQuery(Name = "field")] public string? Field { get; set; }
    [FromQuery(Name = "reason")] public string? Reason { get; set; }
    [FromQuery(Name = "after")] public string? After { get; set; }

    public SubmissionStatus Status { get; private set; } = null!;
    public string SiteName { get; private set; } = "";
    public RowPage Rows { get; private set; } = new([], null);
    public IReadOnlyList<ReasonCount> Reasons { get; private set; } = [];
    public bool IsFiltered => Outcome is not null || Kind is not null || Held is not null || Reason is not null;

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        SiteName = await sites.NameAsync(Status.SiteId, ct);
        Reasons = await read.ReasonsAsync(Id, ct);
        if (Filter() is { } filter) Rows = await read.RowsAsync(Id, filter, ReadSubmissions.After(After) ?? 0, PageRows, ct);
        await audit.ListAsync(Rows.Rows.Select(r => r.InfantId).OfType<InfantId>(), ct);
        return Page();
    }

    /// <summary>The state alone, for the page to follow.</summary>
    public async Task<IActionResult> OnGetStatusAsync(CancellationToken ct) => await FindAsync(ct) ? new JsonResult(Status) : NotFound();

    /// <summary>The bytes as they were sent.</summary>
    public async Task<IActionResult> OnGetRawAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        await audit.ListAsync(Status.Rows, ct);
        return File(read.Open(Status), "application/octet-stream", Status.FileName ?? $"submission-{Id}.{Codes.Of(Status.Format)}");
    }

    /// <summary>The rejected rows with their reasons, to be corrected and sent again as they are.</summary>
    public async Task<IActionResult> OnGetRejectedAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        await audit.ListAsync(Status.Rejected, ct);
        Response.ContentType = "text/csv; charset=utf-8";
        Response.Headers.ContentDisposition = $"attachment; filename=\"rejected-{Id}.csv\"";
        await using var writer = new StreamWriter(Response.Body, new UTF8Encoding(true));
        await WriteRejectedRows.RunAsync(read, Id, writer, ct);
        return new EmptyResult();
    }

    /// <summary>What became of the rows the filter shows, as CSV: a line for each problem of a row, and no value of any.</summary>
    public async Task<IActionResult> OnGetOutcomesAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        await audit.ListAsync(0, ct);
        return new CsvResult($"outcomes-{Id}.csv", ["row", "line", "kind", "outcome", "field", "reason", "held_reason"], LinesAsync(ct));
    }

    private async IAsyncEnumerable<object?[]> LinesAsync([EnumeratorCancellation] CancellationToken ct)
    {
        if (Filter() is not { } filter) yield break;
        await foreach (var row in read.AllRowsAsync(Id, filter, ct))
            foreach (var problem in row.Problems.Count == 0 ? [default] : row.Problems)
                yield return [row.Row, row.Line, row.Kind, row.Outcome, problem.Field, problem.Reason, row.HeldReason];
    }

    /// <returns>Null when the filter names a code that does not exist: it must not mean every row.</returns>
    private RowFilter? Filter() =>
        TryCode<RowOutcome>(Outcome, out var outcome) && TryCode<RowKind>(Kind, out var kind) && TryCode<HoldReason>(Held, out var held)
            ? new(outcome, kind, held, string.IsNullOrEmpty(Field) ? null : Field, string.IsNullOrEmpty(Reason) ? null : Reason)
            : null;

    private static bool TryCode<T>(string? text, out T? code) where T : struct, Enum
    {
        code = null;
        if (string.IsNullOrEmpty(text)) return true;
        if (!Codes.TryParse<T>(text, out var parsed)) return false;
        code = parsed;
        return true;
    }

    private async Task<bool> FindAsync(CancellationToken ct)
    {
        if (await read.StatusAsync(Id, ct) is not { } status || !viewer.MaySee(status.SiteId)) return false;
        Status = status;
        return true;
    }
}
