using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Registry.Ui;

namespace Registry.Intake;

/// <summary>Held and rejected rows that wait, oldest first, by site, age and reason; ticked ones or all shown are decided together. It shows no infant.</summary>
[Authorize(Policy = Permissions.SubmitForSite)]
public sealed class HeldRowsModel(ListSubmissions submissions, ListWaitingRows list, ChooseRows choose, Viewer viewer) : PageModel
{
    private const int MostGroups = 30;
    private const int ExportLimit = 100_000;

    [FromQuery(Name = "site")] public string? Site { get; set; }
    [FromQuery(Name = "submission")] public SubmissionId? Submission { get; set; }
    [FromQuery(Name = "outcome")] public string? Outcome { get; set; }
    [FromQuery(Name = "kind")] public string? Kind { get; set; }
    [FromQuery(Name = "held")] public string? Held { get; set; }
    [FromQuery(Name = "field")] public string? Field { get; set; }
    [FromQuery(Name = "reason")] public string? Reason { get; set; }
    [FromQuery(Name = "age")] public string? Age { get; set; }
    [FromQuery(Name = "page")] public int PageNumber { get; set; } = 1;

    public IReadOnlyList<(SiteId Id, string Code, string Name)> Sites { get; private set; } = [];
    public IReadOnlyList<WaitingSite> Counts { get; private set; } = [];
    public IReadOnlyList<WaitingGroup> Groups { get; private set; } = [];
    public IReadOnlyList<WaitingLine> Lines { get; private set; } = [];
    public int Total { get; private set; }
    public bool HasNext => PageNumber * ListWaitingRows.PageSize < Total;
    public bool MayChoose => viewer.PersonId is not null;
    public bool IsFiltered => Site is not null || Submission is not null || Outcome is not null || Kind is not null || Held is not null || Reason is not null || Age is not null;

    public async Task OnGetAsync(CancellationToken ct)
    {
        var filter = await FilterAsync(ct);
        PageNumber = Math.Max(1, PageNumber);
        Counts = await list.SitesAsync(filter, ct);
        Groups = await list.GroupsAsync(filter, MostGroups, ct);
        (Lines, Total) = await list.PageAsync(filter, (PageNumber - 1) * ListWaitingRows.PageSize, ListWaitingRows.PageSize, ct);
    }

    /// <summary>The list as CSV: which rows wait and why, without their values.</summary>
    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        var (lines, _) = await list.PageAsync(await FilterAsync(ct), 0, ExportLimit, ct);
        return new CsvResult("waiting-rows.csv", ["site", "submission", "row", "line", "kind", "outcome", "since", "reason"], Rows());

        async IAsyncEnumerable<object?[]> Rows()
        {
            foreach (var l in lines)
            {
                yield return [l.SiteName, l.SubmissionId.ToString(), l.Row, l.Line, l.Kind is { } kind ? Codes.Of(kind) : "", Codes.Of(l.Outcome),
                    l.Since.UtcDateTime.ToString("yyyy-MM-ddTHH:mm:ssZ", CultureInfo.InvariantCulture),
                    l.Hold is { } hold ? Codes.Of(hold) : string.Join("; ", l.Problems.Select(p => $"{p.Field} {p.Reason}".Trim()))];
            }

            await Task.CompletedTask;
        }
    }

    /// <summary>Puts the ticked rows, or all the filter shows, together for one decision.</summary>
    /// <param name="ticked">Each <c>submission/row</c>.</param>
    /// <param name="all">True: every row of the filter, ticked or not.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IActionResult> OnPostChooseAsync(string[] ticked, bool all, CancellationToken ct)
    {
        if (viewer.PersonId is not { } person) return Forbid();
        var rows = new List<(SubmissionId, int)>();
        foreach (var parts in ticked.Select(t => t.Split('/')))
            if (parts.Length == 2 && SubmissionId.TryParse(parts[0], null, out var id) && int.TryParse(parts[1], NumberStyles.None, CultureInfo.InvariantCulture, out var row)) rows.Add((id, row));
        var problem = !all && rows.Count == 0 ? "Tick the rows first, or choose all that are shown." : null;
        if (problem is null)
        {
            if (await choose.RunAsync(await FilterAsync(ct), all ? null : rows, person, ct) is { } bulk) return Redirect($"/submissions/held/bulk/{bulk}");
            problem = "None of these rows waits any more.";
        }

        TempData["Problem"] = problem;
        return LocalRedirect(Request.Path + Request.QueryString.Value?.Replace("handler=Choose", "", StringComparison.OrdinalIgnoreCase).TrimEnd('?', '&'));
    }

    public static string Since(WaitingLine line) => line.Hold is { } hold ? IntakeWords.Of(hold) : string.Join("; ", line.Problems.Select(p => $"{p.Field} {p.Reason}".Trim()));

    private async Task<WaitingFilter> FilterAsync(CancellationToken ct)
    {
        Sites = await submissions.SitesAsync(ct);
        var site = viewer.IsCoordinator ? Sites.Where(s => s.Code == Site).Select(s => (SiteId?)s.Id).FirstOrDefault() : viewer.SiteId;
        return new(
            site, Submission, Codes.TryParse<RowOutcome>(Outcome, out var outcome) ? outcome : null, string.IsNullOrEmpty(Kind) ? null : Kind,
            Codes.TryParse<HoldReason>(Held, out var held) ? held : null, Field, string.IsNullOrEmpty(Reason) ? null : Reason,
            Codes.TryParse<WaitingAge>(Age, out var age) ? age : null);
    }
}
