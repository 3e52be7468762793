using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.List;
using Registry.Records;
using Registry.Ui;

namespace Registry.Benchmarks;

/// <summary>1-3-6 over a birth period, and what needs attention. Shows counts; no person.</summary>
public sealed class OverviewModel(ReadOverview overview, SiteChoices sites, AsOf asOf, Viewer viewer) : PageModel
{
    [FromQuery(Name = "period")]
    public string? PeriodCode { get; set; }

    public BirthPeriod Period { get; private set; } = null!;
    public InfantFilter Filter { get; private set; } = new();
    public Overview Overview { get; private set; } = null!;
    public IReadOnlyList<BirthPeriod> Offered { get; private set; } = [];
    public IReadOnlyList<Site> Sites { get; private set; } = [];

    public async Task OnGetAsync(CancellationToken ct)
    {
        var asked = InfantFilter.Read(Request.Query);
        Offered = BirthPeriod.Offered(asOf.Date);
        Period = BirthPeriod.Choose(PeriodCode, asked.From, asked.To, asOf.Date);
        Filter = new()
        {
            From = Period.From,
            To = Period.To,
            Site = viewer.IsCoordinator ? asked.Site : null,
            Problems = asked.Problems,
        };
        Sites = await sites.AllAsync(ct);
        Overview = await overview.AsOfAsync(asOf.Date, Filter, ct);
    }
}
