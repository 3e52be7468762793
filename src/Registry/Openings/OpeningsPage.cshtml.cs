using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Registry.Access;
using Registry.Platform.Csv;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Openings;

/// <summary>A clinic's calendar of openings: who took them, stating more, and withdrawing one.</summary>
[Authorize(Policy = Permissions.SubmitForSite), ShowsInfants, RequestSizeLimit(4 * ReadCsv.MostCharacters)]
public sealed class OpeningsPageModel(
    StateOpenings state, ListOpenings list, ReadOpenings read, SiteChoices choices, AuditReads audit, Viewer viewer) : PageModel
{
    /// <summary>The clinic, for coordinators, who state anybody's.</summary>
    [FromQuery(Name = "site")] public string? Code { get; set; }

    /// <summary>Null before a coordinator has chosen one.</summary>
    public Site? Clinic { get; private set; }
    public IReadOnlyList<Site> Clinics { get; private set; } = [];
    public IReadOnlyList<OpeningLine> Lines { get; private set; } = [];
    public string? Problem { get; private set; }
    public string? Text { get; private set; }

    public Task<IActionResult> OnGetAsync(CancellationToken ct) => ShowAsync(ct);

    /// <summary>One, or the same each week.</summary>
    public async Task<IActionResult> OnPostAsync([FromForm] DateOnly? opensOn, [FromForm] TimeOnly? startsAt, [FromForm] int? minutes,
        [FromForm] int? capacity, [FromForm] string? step, [FromForm] int? weeks, CancellationToken ct)
    {
        var isRead = ModelState.IsValid & Codes.TryParse<PathStep>(step, out var known);
        return await SaveAsync(isRead && opensOn is { } on && startsAt is { } at && minutes is { } length && capacity is { } many
            ? StateOpenings.Weekly(new(on, at, length, many, known), weeks ?? 1) : [], OpeningWords.NotUnderstood, ct);
    }

    public async Task<IActionResult> OnPostFileAsync([FromForm] string? text, [FromForm] int? capacity, [FromForm] string? step,
        IFormFile? sent, CancellationToken ct)
    {
        if (sent is { Length: > 0 and <= ReadCsv.MostCharacters }) text = await new StreamReader(sent.OpenReadStream()).ReadToEndAsync(ct);
        Text = text;
        if (string.IsNullOrWhiteSpace(text)) return await SaveAsync([], OpeningWords.NoFile, ct);
        var done = Codes.TryParse<PathStep>(step, out var known) ? known : PathStep.Diagnosis;
        var stated = read.Read(text, capacity ?? 1, done, out var problem);
        return await SaveAsync(stated, problem, ct);
    }

    public async Task<IActionResult> OnPostWithdrawAsync([FromForm] Guid opening, CancellationToken ct)
    {
        if (!await state.WithdrawAsync(opening, ct)) return NotFound();
        TempData["Done"] = OpeningWords.Withdrawn;
        return Back();
    }

    private async Task<IActionResult> SaveAsync(IReadOnlyList<StatedOpening> stated, string? problem, CancellationToken ct)
    {
        if (await state.ClinicAsync(Code, ct) is not { } clinic) return NotFound();
        if (stated.Count > 0)
        {
            var answer = await state.RunAsync(clinic, stated, ct);
            if (answer.Problem is null)
            {
                TempData["Done"] = OpeningWords.Added(answer, stated.Count);
                return Back();
            }

            problem = answer.Problem;
        }

        Problem = problem;
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return await ShowAsync(ct);
    }

    private async Task<IActionResult> ShowAsync(CancellationToken ct)
    {
        Clinic = await state.ClinicAsync(Code, ct);
        if (Clinic is null && !(viewer.IsCoordinator && string.IsNullOrEmpty(Code))) return NotFound();
        if (viewer.IsCoordinator) Clinics = [.. (await choices.ActiveAsync(ct)).Where(s => s.Kind != SiteKind.VitalRecords)];
        Lines = Clinic is null ? [] : await list.OfAsync(Clinic.Id, ListOpenings.Most, ct);
        await audit.ListAsync(Lines.SelectMany(l => l.Taken).Select(t => t.Id), ct);
        return Page();
    }

    private LocalRedirectResult Back() =>
        LocalRedirect("/clinic/openings" + (viewer.IsCoordinator ? $"?site={Uri.EscapeDataString(Code ?? "")}" : ""));
}
