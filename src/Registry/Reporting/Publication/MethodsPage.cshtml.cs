using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Reporting.Measures;

namespace Registry.Reporting.Publication;

/// <summary><c>/reports/methods</c>: how each figure of the reports is defined, and how sure we are of its source.</summary>
[Authorize(Permissions.SeeCounts)]
public sealed class MethodsPageModel(ListMethods methods) : PageModel
{
    public Methods Methods { get; private set; } = null!;

    public async Task OnGetAsync(CancellationToken ct) => Methods = await methods.RunAsync(ct);

    public string Line(string code) => Methods.Lines.GetValueOrDefault(code, PublicationWords.VitalBirths);
}
