using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Rules.Quality;
using Registry.Ui;

namespace Registry.SiteQuality.Equipment;

/// <summary>A site's instruments and probes, what happened to them, and a form to say so. It shows no infant.</summary>
[Authorize(Permissions.SeeInfants)]
public sealed class EquipmentPageModel(ShowEquipment equipment, RecordEvent record, AsOf asOf) : PageModel
{
    private static readonly string[] Header =
        ["site", "unit", "name", "first_used", "last_used", "tests", "last_calibrated", "calibration_due", "away"];

    [BindProperty] public EventForm Form { get; set; } = new();

    public ShownEquipment Shown { get; private set; } = null!;

    public static IEnumerable<QualityUnitKind> Units(bool screeners) =>
        Enum.GetValues<QualityUnitKind>().Where(u => u != QualityUnitKind.Site && (screeners || u != QualityUnitKind.Screener));

    public async Task<IActionResult> OnGetAsync(string code, CancellationToken ct)
    {
        if (await equipment.AsOfAsync(code, asOf.Date, ct) is not { } shown) return NotFound();
        Shown = shown;
        return Page();
    }

    public async Task<IActionResult> OnGetCsvAsync(string code, CancellationToken ct) =>
        await equipment.AsOfAsync(code, asOf.Date, ct) is not { } shown ? NotFound()
            : new CsvResult("equipment.csv", Header, shown.Equipment.Select(l => new object?[]
            {
                shown.Site.Code, l.Unit, l.Name, l.First, l.Last, l.Tests, l.Checked, l.DueOn, l.Away ? "yes" : "no",
            }).ToAsyncEnumerable());

    public Task<IActionResult> OnPostAsync(string code, CancellationToken ct) => SaidAsync(code, record.RunAsync(code, Form, ct), ct);

    public Task<IActionResult> OnPostTakeBackAsync(string code, [FromForm] Guid id, CancellationToken ct) =>
        SaidAsync(code, record.TakeBackAsync(code, id, ct), ct);

    private async Task<IActionResult> SaidAsync(string code, Task<EventAnswer> asked, CancellationToken ct)
    {
        var answer = await asked;
        if (answer == EventAnswer.NoSuchPlace) return NotFound();
        var done = answer is EventAnswer.Recorded or EventAnswer.TookBack;
        TempData[done ? "Done" : "Problem"] = EquipmentWords.Of(answer);
        if (done) return LocalRedirect($"/sites/{code}/equipment");
        ModelState.Clear();
        return await OnGetAsync(code, ct);
    }
}
