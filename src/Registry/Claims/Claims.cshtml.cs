using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Ui;

namespace Registry.Claims;

/// <summary>Claims to confirm: who reports about an infant it has not reported on before, what, and why it was taken to mean this one.
/// Ticked ones are confirmed or refused together.</summary>
[Authorize(Policy = Permissions.SiteManager), ShowsInfants]
public sealed class ClaimsModel(
    ListClaims list, DecideClaims decide, SlowedSenders slowed, SiteChoices sites, AuditReads audit, Viewer viewer) : PageModel
{
    [FromQuery(Name = "site")] public string? Site { get; set; }
    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public IReadOnlyList<Claim> Waiting { get; private set; } = [];
    public IReadOnlyList<DecidedClaim> Decided { get; private set; } = [];
    public IReadOnlyList<SlowedSender> Slowed { get; private set; } = [];
    public int Total { get; private set; }

    public async Task OnGetAsync(CancellationToken ct)
    {
        Sites = await sites.AllAsync(ct);
        var of = Sites.FirstOrDefault(s => s.Code == Site)?.Id;
        Waiting = await list.WaitingAsync(of, ct);
        Total = await list.CountAsync(of, ct);
        Decided = await list.DecidedAsync(ct);
        Slowed = await slowed.AllAsync(ct);
        await audit.ListAsync(Waiting.Select(c => c.InfantId).Concat(Decided.Select(d => d.InfantId)).Distinct().Count(), ct);
    }

    /// <param name="ticked">Each <c>site/infant</c>.</param>
    /// <param name="ct">Cancels.</param>
    public Task<IActionResult> OnPostConfirmAsync(string[] ticked, CancellationToken ct) =>
        EachAsync(ticked, ClaimVerdict.Confirmed, claim => decide.ConfirmAsync(claim, ct));

    /// <param name="ticked">Each <c>site/infant</c>.</param>
    /// <param name="reason">Why.</param>
    /// <param name="ct">Cancels.</param>
    public async Task<IActionResult> OnPostRefuseAsync(string[] ticked, string? reason, CancellationToken ct)
    {
        var why = reason?.Trim() ?? "";
        if (why.Length is > 0 and <= 200) return await EachAsync(ticked, ClaimVerdict.Refused, claim => decide.RefuseAsync(claim, why, ct));
        TempData["Problem"] = ClaimWords.SayWhy;
        return Back();
    }

    public async Task<IActionResult> OnPostTakeBackAsync(SiteId site, InfantId infant, CancellationToken ct)
    {
        if (viewer.PersonId is null) return Forbid();
        var why = await decide.TakeBackAsync(new(site, infant), ct);
        TempData[why is null ? "Done" : "Problem"] = why is { } not ? ClaimWords.NotDone(not, 1) : ClaimWords.TakenBack;
        return Back();
    }

    /// <summary>A sender with a good reason may send on at once.</summary>
    public async Task<IActionResult> OnPostLetSendAsync(SiteId site, CancellationToken ct)
    {
        if (!await slowed.LetSendAsync(site, ct)) return Forbid();
        TempData["Done"] = ClaimWords.SendsOn;
        return Back();
    }

    private async Task<IActionResult> EachAsync(string[] ticked, ClaimVerdict verdict, Func<ClaimKey, Task<WhyNotDecided?>> say)
    {
        var claims = ticked.Select(Read).OfType<ClaimKey>().ToList();
        if (claims.Count == 0)
        {
            TempData["Problem"] = ClaimWords.TickFirst;
            return Back();
        }

        var (done, not) = (0, new List<WhyNotDecided>());
        foreach (var claim in claims)
        {
            if (await say(claim) is { } why) not.Add(why);
            else done++;
        }

        if (done > 0) TempData["Done"] = ClaimWords.Done(verdict, done);
        if (not.Count > 0) TempData["Problem"] = ClaimWords.NotDone(not[0], not.Count);
        return Back();
    }

    private LocalRedirectResult Back() => LocalRedirect("/claims");

    private static ClaimKey? Read(string ticked) => ticked.Split('/') is [var site, var infant]
        && SiteId.TryParse(site, null, out var s) && InfantId.TryParse(infant, null, out var i) ? new(s, i) : null;
}
