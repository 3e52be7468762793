using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Platform;
using Registry.PolicyVersions;
using Registry.Ui;

namespace Registry.Reporting.Export;

/// <summary>What is in the de-identified extract and what is not, and the file.</summary>
[Authorize(Permissions.TakeExtract)]
public sealed class ExtractModel(ExtractDeidentified extract, PolicyStore policies, ProgramClock clock) : PageModel
{
    public int Threshold { get; private set; }

    public async Task OnGetAsync(CancellationToken ct) =>
        Threshold = (await policies.InForceAsync(clock.Today, ct)).ReleaseThreshold;

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct) => new CsvResult(
        $"deidentified-{clock.Today:yyyy-MM-dd}.csv", [.. ExtractWords.Fields.Select(f => f.Column)], await extract.RowsAsync(ct));
}
