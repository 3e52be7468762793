using System.Globalization;
using System.Text;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Infants.Counting;
using Registry.Rules.Facts;
using Registry.Rules.Quality;
using Registry.Ui;

namespace Registry.SiteQuality;

/// <summary>The tests behind a number of a site page.</summary>
[Authorize(Policy = Permissions.SeeInfants)]
[ShowsInfants]
public sealed class TestsModel(ListTests tests, AsOf asOf) : PageModel
{
    [FromQuery(Name = "from")] public string? FromText { get; set; }
    [FromQuery(Name = "to")] public string? ToText { get; set; }
    [FromQuery(Name = "days")] public string? DaysText { get; set; }
    [FromQuery(Name = "show")] public string? Show { get; set; }
    [FromQuery(Name = "by")] public string? By { get; set; }
    [FromQuery(Name = "unit")] public string? Unit { get; set; }
    [FromQuery(Name = "part")] public string? Part { get; set; }
    [FromQuery(Name = "received")] public string? Received { get; set; }
    [FromQuery(Name = "page")] public int PageNumber { get; set; } = 1;

    public TestsAsked Asked { get; private set; } = null!;
    public ListedTests Listed { get; private set; } = null!;
    public bool HasNext => PageNumber * ListTests.PageSize < Listed.Tests;

    public async Task<IActionResult> OnGetAsync(string code, CancellationToken ct)
    {
        PageNumber = Math.Max(1, PageNumber);
        Asked = Read();
        if (await tests.PageAsync(code, Asked, PageNumber, asOf.Date, ct) is not { } listed) return NotFound();
        Listed = listed;
        return Page();
    }

    public async Task<IActionResult> OnGetCsvAsync(string code, CancellationToken ct) =>
        await tests.AllAsync(code, Read(), asOf.Date, ct) is { } listed
            ? File(Encoding.UTF8.GetBytes(WriteTestsCsv.Of(listed.Lines)), "text/csv", "tests.csv")
            : NotFound();

    private TestsAsked Read() => new(
        Period.Read(FromText, ToText, asOf.Date), Period.Days(DaysText), Show,
        Codes.TryParse<ScreenGrouping>(By, out var grouping) ? grouping : ScreenGrouping.Site, Unit,
        DateOnly.TryParseExact(Received, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day) ? day : null,
        Codes.TryParse<CauseKind>(Part, out var part) && TestsSql.Parts.Contains(part) ? part : null);
}
