using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.SiteQuality.Flags;

/// <summary>The flags of the sites somebody answers for, to look at or take away.</summary>
[Authorize(Permissions.SiteManager)]
public sealed class FlagsModel(ListFlags list, AsOf asOf) : PageModel
{
    private static readonly string[] Header =
    [
        "site", "id", "cause", "name", "measure", "direction", "raised_on", "evidence_through", "onset_on", "onset_first", "onset_last",
        "denominator", "numerator", "expected", "sure", "explained", "named_cause", "named_name", "policy_version", "state",
        "watched_until", "closed_on", "last_act_on",
    ];

    [FromQuery(Name = "show")] public string? ShowText { get; set; }
    [FromQuery(Name = "site")] public string? Site { get; set; }
    [FromQuery(Name = "since")] public string? SinceText { get; set; }

    /// <summary>Only those raised, or closed, since this day.</summary>
    public DateOnly? Since =>
        DateOnly.TryParseExact(SinceText, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day) ? day : null;

    public FlagFilter Filter => Codes.TryParse<FlagFilter>(ShowText, out var filter) ? filter : FlagFilter.Open;
    public IReadOnlyList<FlagLine> Lines { get; private set; } = [];
    public IReadOnlyList<Site> Sites { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct)
    {
        Lines = await list.AsOfAsync(Filter, Site, asOf.Date, Since, ct);
        Sites = await list.SitesAsync(ct);
    }

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct) => new CsvResult("flags.csv", Header,
        (await list.AsOfAsync(Filter, Site, asOf.Date, Since, ct)).ToAsyncEnumerable().Select(l => new object?[]
        {
            l.Site.Code, l.Flag.Id, l.Flag.Cause, l.Flag.Name, l.Flag.Measure, l.Flag.Above ? "above" : "below", l.Flag.RecordedOn,
            l.Flag.FoundOn, l.Flag.OnsetOn, l.Flag.OnsetFirst, l.Flag.OnsetLast, l.Flag.Denominator, l.Flag.Numerator,
            FlagWords.Number(l.Flag.Expected), FlagWords.Percent(l.Flag.Sure),
            l.Flag.Explained is { } share ? FlagWords.Percent(share) : null, l.Flag.Named.Part.Kind, l.Flag.Named.Part.Code,
            l.Flag.PolicyVersion, l.Standing.State, l.Standing.WatchedUntil, l.Standing.ClosedOn, l.LastActOn,
        }));
}
