using System.Text;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Npgsql;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;

namespace Registry.Intake;

/// <summary>One submission: its progress, its rows by outcome and reason, and what can be taken home: the raw file, the rejected rows.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants]
public sealed class SubmissionPageModel(ReadSubmissions read, ListSubmissions list, NpgsqlDataSource source, AuditReads audit, Viewer viewer) : PageModel
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
        SiteName = (await list.SitesAsync(ct)).First(s => s.Id == Status.SiteId).Name;
        Reasons = await read.ReasonsAsync(Id, ct);
        var filter = new RowFilter(
            Codes.TryParse<RowOutcome>(Outcome, out var outcome) ? outcome : null,
            Codes.TryParse<RowKind>(Kind, out var kind) ? kind : null,
            Codes.TryParse<HoldReason>(Held, out var held) ? held : null,
            Field, Reason);
        Rows = await read.RowsAsync(Id, filter, ReadSubmissions.After(After) ?? 0, PageRows, ct);
        await audit.ListAsync(Rows.Rows.Count(r => r.InfantId is not null || r.Content is not null), ct);
        return Page();
    }

    /// <summary>The state alone, for the page to follow.</summary>
    public async Task<IActionResult> OnGetStatusAsync(CancellationToken ct) => await FindAsync(ct) ? new JsonResult(Status) : NotFound();

    /// <summary>The bytes as they were sent.</summary>
    public async Task<IActionResult> OnGetRawAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        await audit.ListAsync(Status.Rows, ct);
        var name = Status.FileName ?? $"submission-{Id}.{Codes.Of(Status.Format)}";
        return File(new SubmissionStream(source.CreateCommand, Id, Status.Bytes), "application/octet-stream", name);
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

    private async Task<bool> FindAsync(CancellationToken ct)
    {
        if (await read.StatusAsync(Id, ct) is not { } status || !viewer.MaySee(status.SiteId)) return false;
        Status = status;
        return true;
    }
}
