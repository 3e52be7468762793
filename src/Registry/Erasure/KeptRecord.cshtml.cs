using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Records;
using Registry.Ui;

namespace Registry.Erasure;

/// <summary>What is kept of one infant: taken away as a file, for the family or another program; or asked to be erased.</summary>
[Authorize(Permissions.Coordinator), ShowsInfants]
public sealed class KeptRecordModel(ExportRecord export, AuditReads audit, DecideErasure erasure) : PageModel
{
    [FromRoute]
    public Guid Id { get; set; }

    public ErasureRequest? Waiting { get; private set; }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!await export.MaySeeAsync(new(Id), ct)) return NotFound();
        Waiting = await erasure.WaitingAsync(new(Id), ct);
        await audit.OneAsync(new(Id), ct);
        return Page();
    }

    public async Task<IActionResult> OnGetJsonAsync(CancellationToken ct)
    {
        if (await export.AsJsonAsync(new InfantId(Id), ct) is not { } json) return NotFound();
        await audit.OneAsync(new(Id), ct);
        return File(json, "application/json", $"record-{Id}.json");
    }

    public async Task<IActionResult> OnGetCsvAsync(CancellationToken ct)
    {
        if (await export.AsRowsAsync(new InfantId(Id), ct) is not { } rows) return NotFound();
        await audit.OneAsync(new(Id), ct);
        return new CsvResult($"record-{Id}.csv", ["kept in", "entry", "field", "value"], rows.ToAsyncEnumerable());
    }
}
