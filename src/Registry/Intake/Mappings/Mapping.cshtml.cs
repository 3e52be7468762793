using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Mappings;

/// <summary>
/// One column mapping: made from a sample, looked at as it would read the sample's rows, saved as a version, its versions put in force
/// again or taken out of use. The sample stays in the page; nothing of it is stored.
/// </summary>
[Authorize(Policy = Permissions.SiteManager), ShowsInfants, RequestFormLimits(ValueCountLimit = 4_096)]
public sealed class MappingModel(
    ReadMappings mappings, PreviewMapping preview, SaveMapping save, FindSite sites, SiteChoices choices, AuditReads audit, Viewer viewer,
    IOptions<IntakeOptions> options) : PageModel
{
    [FromRoute(Name = "id")] public Guid? Id { get; set; }
    [BindProperty] public MappingForm Form { get; set; } = new();
    [BindProperty] public IFormFile? SampleFile { get; set; }

    public IReadOnlyList<MappingVersion> History { get; private set; } = [];
    public MappingVersion? Current => History.Count > 0 ? History[0] : null;
    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public IReadOnlyList<FileProblem> Problems { get; private set; } = [];
    public IReadOnlyList<PreviewedRow> Rows { get; private set; } = [];

    /// <summary>The form was looked at as it stands: it may be saved.</summary>
    public bool MaySave { get; private set; }

    public async Task<IActionResult> OnGetAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (Current is { } current) Form = MappingForm.Of(current.Name, current.Version, current.Mapping);
        return await ShowAsync(ct);
    }

    /// <summary>Reads a sample: its header makes a new mapping, its rows are what a preview shows.</summary>
    public async Task<IActionResult> OnPostSampleAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        if (await ReadSampleAsync(ct) is not { } sample) return await AgainAsync(ct);
        var (name, site, kind) = (Form.Name, Form.Site, Form.Kind);
        if (Current is { } current)
        {
            Form = MappingForm.Of(current.Name, current.Version, current.Mapping);
            Form.Fit(sample);
            Form.Kind = kind;
            return await PreviewAsync(ct);
        }

        Form = MappingForm.Of(sample);
        (Form.Name, Form.Site) = (name, site);
        ModelState.Clear();
        return await ShowAsync(ct);
    }

    public async Task<IActionResult> OnPostPreviewAsync(CancellationToken ct) => await FindAsync(ct) ? await PreviewAsync(ct) : NotFound();

    public async Task<IActionResult> OnPostSaveAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        var previewed = Form.Previewed;
        if (await ReadFormAsync(ct) is not { } read || Form.PrintOf(read.Mapping) != previewed) return await PreviewAsync(ct);
        return await SaveAsync(read.Site, Form.Name!.Trim(), read.Mapping, retired: false, MappingWords.Saved, ct);
    }

    /// <summary>Adds an earlier version again, on top.</summary>
    public async Task<IActionResult> OnPostAgainAsync(int version, CancellationToken ct)
    {
        if (!await FindAsync(ct) || History.FirstOrDefault(h => h.Version == version) is not { } earlier) return NotFound();
        return await SaveAsync(earlier.SiteId, earlier.Name, earlier.Mapping, retired: false, MappingWords.InForceAgain(version), ct);
    }

    public async Task<IActionResult> OnPostRetireAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct) || Current is not { Retired: false } current) return NotFound();
        return await SaveAsync(current.SiteId, current.Name, current.Mapping, retired: true, MappingWords.Retired, ct);
    }

    private async Task<IActionResult> SaveAsync(
        SiteId site, string name, ColumnMapping mapping, bool retired, string done, CancellationToken ct)
    {
        var saved = await save.SaveAsync(Current, site, name, mapping, viewer.PersonId!.Value, ct, retired);
        if (saved.Refusal is { } refusal)
        {
            ModelState.AddModelError("Form.Name", MappingWords.Of(refusal));
            return await AgainAsync(ct);
        }

        var others = retired ? [] : await mappings.OfSameHeaderAsync(saved.MappingId, ct);
        TempData["Done"] = MappingWords.Done(done, others);
        return Redirect($"/submissions/mappings/{saved.MappingId}");
    }

    /// <returns>Null after saying why the file is no sample.</returns>
    private async Task<SampleRows?> ReadSampleAsync(CancellationToken ct)
    {
        if (SampleFile is null || ReadSample.FormatOf(SampleFile.FileName, SampleFile.Length) is not { } format)
        {
            ModelState.AddModelError("SampleFile", MappingWords.ChooseFile);
            return null;
        }

        using var bytes = new MemoryStream();
        await SampleFile.CopyToAsync(bytes, ct);
        try
        {
            return await ReadSample.RunAsync(bytes.ToArray(), format, options.Value, ct);
        }
        catch (UnreadableFileException e)
        {
            ModelState.AddModelError("SampleFile", MappingWords.Of(e.Problem));
            return null;
        }
    }

    /// <summary>The mapping the form states and the site it is for; null after saying what is wrong.</summary>
    private async Task<(SiteId Site, ColumnMapping Mapping)?> ReadFormAsync(CancellationToken ct)
    {
        var site = Current?.SiteId ?? await sites.ForAsync(Form.Site, viewer, ct);
        foreach (var missing in Form.Missing(Current, site)) ModelState.AddModelError(PlaceOf(missing), MappingWords.Of(missing));
        var problems = new List<FileProblem>();
        var mapping = Form.ToMapping(problems);
        problems.AddRange(mapping.Problems());
        Problems = problems;
        return site is { } found && ModelState.IsValid && problems.Count == 0 ? (found, mapping) : null;
    }

    private static string PlaceOf(MappingFormProblem missing) => missing switch
    {
        MappingFormProblem.NoSite => "Form.Site",
        MappingFormProblem.NoSample => "SampleFile",
        _ => "Form.Name",
    };

    private async Task<IActionResult> PreviewAsync(CancellationToken ct)
    {
        if (await ReadFormAsync(ct) is not { } read) return await AgainAsync(ct);
        if (Form.SampleRows() is { } sample)
        {
            RowKind? kind = Codes.TryParse<RowKind>(Form.Kind, out var stated) ? stated : null;
            (Problems, Rows) = await preview.RunAsync(read.Site, sample, read.Mapping, kind, ct);
        }

        Form.Previewed = Problems.Count == 0 ? Form.PrintOf(read.Mapping) : null;
        MaySave = Problems.Count == 0 && Rows.Count > 0;
        ModelState.Clear();
        return Problems.Count == 0 ? await ShowAsync(ct) : await AgainAsync(ct);
    }

    private async Task<bool> FindAsync(CancellationToken ct)
    {
        Sites = await choices.AllAsync(ct);
        if (Id is not { } id) return true;
        History = await mappings.HistoryAsync(id, ct);
        return Current is { } current && viewer.MaySubmitFor(current.SiteId);
    }

    private async Task<IActionResult> AgainAsync(CancellationToken ct)
    {
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return await ShowAsync(ct);
    }

    private async Task<IActionResult> ShowAsync(CancellationToken ct)
    {
        Form.AddSlots();
        await audit.ListAsync(Form.SampleRows()?.Rows.Count ?? 0, ct);
        return Page();
    }
}
