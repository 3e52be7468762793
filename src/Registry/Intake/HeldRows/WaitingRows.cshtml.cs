using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Rules.Linkage;
using Registry.Ui;

namespace Registry.Intake.HeldRows;

/// <summary>Held and rejected rows that wait, oldest first, by site, age and reason; ticked ones or all shown are decided together. It
/// shows no infant.</summary>
[Authorize(Policy = Permissions.SubmitForSite)]
public sealed class WaitingRowsModel(SiteChoices sites, ListWaitingRows list, ChooseRows choose, Viewer viewer) : PageModel
{
    private const int MostGroups = 30;

    [FromQuery(Name = "site")] public string? Site { get; set; }
    [FromQuery(Name = "submission")] public string? Submission { get; set; }
    [FromQuery(Name = "outcome")] public string? Outcome { get; set; }
    [FromQuery(Name = "kind")] public string? Kind { get; set; }
    [FromQuery(Name = "held")] public string? Held { get; set; }
    [FromQuery(Name = "field")] public string? Field { get; set; }
    [FromQuery(Name = "reason")] public string? Reason { get; set; }
    [FromQuery(Name = "age")] public string? Age { get; set; }
    [FromQuery(Name = "after")] public string? After { get; set; }

    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public WaitingOverview Overview { get; private set; } = new(0, [], []);
    public IEnumerable<(WaitingGroup Group, int Rows)> Groups => Overview.Groups.Take(MostGroups);
    public IReadOnlyList<WaitingLine> Lines { get; private set; } = [];
    public string? Next { get; private set; }

    /// <summary>The filter names something that does not exist: no row is like that.</summary>
    public bool MatchesNothing { get; private set; }
    public int Total => Overview.Total;
    public bool MayChoose => viewer.PersonId is not null;
    public bool IsFiltered => Site is not null || Submission is not null || Outcome is not null || Kind is not null || Held is not null
        || Reason is not null || Age is not null;

    public async Task OnGetAsync(CancellationToken ct)
    {
        if (await FilterAsync(ct) is not { } filter) return;
        Overview = await list.OverviewAsync(filter, ct);
        (Lines, Next) = await list.PageAsync(filter, After, ct);
    }

    /// <summary>The whole list as CSV: which rows wait and why, without their values.</summary>
    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        var filter = await FilterAsync(ct);
        return new CsvResult("waiting-rows.csv", ["site", "submission", "row", "line", "kind", "outcome", "since", "reason"], Rows());

        async IAsyncEnumerable<object?[]> Rows()
        {
            if (filter is null) yield break;
            await foreach (var l in list.AllAsync(filter, ct))
            {
                yield return [
                    l.SiteName, l.SubmissionId.ToString(), l.Row, l.Line, l.Kind is { } kind ? Codes.Of(kind) : "", Codes.Of(l.Outcome),
                    l.Since.UtcDateTime.ToString("yyyy-MM-ddTHH:mm:ssZ", CultureInfo.InvariantCulture),
                    l.Hold is { } hold ? Codes.Of(hold) : HeldRowWords.Of(l.Problems),
                ];
            }
        }
    }

    /// <summary>Puts the ticked rows, or all the filter shows, together for one decision.</summary>
    /// <param name="ticked">Each <c>submission/row</c>.</param>
    /// <param name="all">True: every row of the filter, ticked or not.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IActionResult> OnPostChooseAsync(string[] ticked, bool all, CancellationToken ct)
    {
        if (viewer.PersonId is not { } person) return Forbid();
        var rows = ReadTicked(ticked);
        if (!all && rows.Count == 0) return Refuse(HeldRowWords.TickFirst);
        return await FilterAsync(ct) is { } filter && await choose.RunAsync(filter, all ? null : rows, person, ct) is { } bulk
            ? Redirect($"/submissions/held/bulk/{bulk}") : Refuse(HeldRowWords.NoneWaits);
    }

    private LocalRedirectResult Refuse(string problem)
    {
        TempData["Problem"] = problem;
        return LocalRedirect(Request.Path + Request.QueryString.Value?.Replace("handler=Choose", "", StringComparison.OrdinalIgnoreCase)
            .TrimEnd('?', '&'));
    }

    private static List<(SubmissionId Id, int Row)> ReadTicked(string[] ticked)
    {
        var rows = new List<(SubmissionId, int)>();
        foreach (var parts in ticked.Select(t => t.Split('/')))
        {
            if (parts.Length == 2 && SubmissionId.TryParse(parts[0], null, out var id)
                && int.TryParse(parts[1], NumberStyles.None, CultureInfo.InvariantCulture, out var row)) rows.Add((id, row));
        }

        return rows;
    }

    /// <returns>Null when the filter names something that does not exist: it must not mean every row.</returns>
    private async Task<WaitingFilter?> FilterAsync(CancellationToken ct)
    {
        Sites = await sites.AllAsync(ct);
        var unknown = false;
        var site = !viewer.IsCoordinator ? viewer.SiteId
            : Read(Site, (string text, out SiteId id) => (id = Sites.FirstOrDefault(s => s.Code == text)?.Id ?? default) != default);
        var filter = new WaitingFilter(
            site,
            Read(Submission, (string text, out SubmissionId id) => SubmissionId.TryParse(text, null, out id)),
            Read(Outcome, (string text, out RowOutcome outcome) =>
                Codes.TryParse(text, out outcome) && outcome is RowOutcome.Held or RowOutcome.Rejected),
            string.IsNullOrEmpty(Kind) ? null : Kind,
            Read(Held, (string text, out HoldReason held) => Codes.TryParse(text, out held)),
            Field,
            string.IsNullOrEmpty(Reason) ? null : Reason,
            Read(Age, (string text, out WaitingAge age) => Codes.TryParse(text, out age)));
        MatchesNothing = unknown;
        return unknown ? null : filter;

        T? Read<T>(string? text, Reader<T> read) where T : struct
        {
            if (string.IsNullOrEmpty(text)) return null;
            if (read(text, out var value)) return value;
            unknown = true;
            return null;
        }
    }

    private delegate bool Reader<T>(string text, out T value);
}
