using System.Globalization;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Rules.Measures;
using Registry.Ui;

namespace Registry.Reporting.Measures;

/// <summary>
/// <c>/reports/infants</c>: the infants one number of a report counts, found by counting again, so that the list is as long as the
/// number (lines that count ears: shorter). Coordinators only, and recorded.
/// </summary>
[ShowsInfants, Authorize(Permissions.Coordinator)]
public sealed class ReportInfantsModel(ComputeMeasures measures, PolicyStore policies, ProgramClock clock, SiteChoices sites,
    AuditReads audit) : PageModel
{
    public const int PageSize = 100;

    private Dictionary<string, string> _sites = [];

    public MeasureRequest? Asked { get; private set; }
    public string LineName { get; private set; } = "";
    public string? Group { get; private set; }
    public int Total { get; private set; }
    public int Start { get; private set; }
    public IReadOnlyList<MeasuredInfant> Infants { get; private set; } = [];
    public string SiteName(string? code) => code is null ? "not known" : _sites.GetValueOrDefault(code, code);
    public bool More => Start + Infants.Count < Total;

    public async Task<IActionResult> OnGetAsync([FromQuery] string? line, [FromQuery] string? group, [FromQuery] string? start,
        CancellationToken ct)
    {
        var (request, _) = MeasureRequest.Read(Request.Query, clock);
        if (request is null) return BadRequest();
        var policy = await policies.InForceAsync(request.AsOf, ct);
        if (MeasureSet.Under(policy).Lines.FirstOrDefault(l => l.Code == line) is not { } counted) return NotFound();
        (Asked, LineName, Group) = (request, counted.Name, group is { Length: > 0 } ? group : null);
        Start = int.TryParse(start, NumberStyles.None, CultureInfo.InvariantCulture, out var s) ? s : 0;
        var behind = await measures.BehindAsync(request, counted.Code, Group, ct);
        Total = behind.Count;
        Infants = [.. behind.OrderBy(i => i.Born).ThenBy(i => i.Id).Skip(Start).Take(PageSize)];
        _sites = (await sites.AllAsync(ct)).ToDictionary(s => s.Code, s => s.Name);
        await audit.ListAsync(Infants.Count, ct);
        return Page();
    }
}
