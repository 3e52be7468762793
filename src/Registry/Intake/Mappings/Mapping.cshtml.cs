using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Npgsql;
using Registry.Access;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Platform;
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
    SaveMapping mappings, FindSite sites, SiteChoices choices, NpgsqlDataSource source, AuditReads audit, ProgramClock clock, Viewer viewer,
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
        var format = SampleFile is null ? null : FileNames.FormatOf(SampleFile.FileName);
        if (format is not (SubmissionFormat.Csv or SubmissionFormat.Xlsx, false) || SampleFile!.Length is 0 or > PreviewMapping.MaxBytes)
        {
            ModelState.AddModelError("SampleFile", $"Choose a .csv or .xlsx file of at most {PreviewMapping.MaxBytes / 1048576} MiB.");
            return await AgainAsync(ct);
        }

        using var bytes = new MemoryStream();
        await SampleFile.CopyToAsync(bytes, ct);
        try
        {
            var sample = await PreviewMapping.SampleAsync(bytes.ToArray(), format.Value.Format, options.Value, ct);
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
        }
        catch (UnreadableFileException e)
        {
            ModelState.AddModelError(
                "SampleFile", $"{(e.Problem.Row > 0 ? $"Row {e.Problem.Row}: " : "")}{e.Problem.Field} {e.Problem.Reason}".Trim());
            return await AgainAsync(ct);
        }

        ModelState.Clear();
        return await ShowAsync(ct);
    }

    public async Task<IActionResult> OnPostPreviewAsync(CancellationToken ct) => await FindAsync(ct) ? await PreviewAsync(ct) : NotFound();

    public async Task<IActionResult> OnPostSaveAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct)) return NotFound();
        var previewed = Form.Previewed;
        if (await TryAsync(ct) is not { } read || Form.PrintOf(read.Mapping) != previewed) return await PreviewAsync(ct);
        return await SaveAsync(read.Site, Form.Name!.Trim(), read.Mapping, retired: false, "The mapping is saved and in force.", ct);
    }

    /// <summary>Adds an earlier version again, on top.</summary>
    public async Task<IActionResult> OnPostAgainAsync(int version, CancellationToken ct)
    {
        if (!await FindAsync(ct) || History.FirstOrDefault(h => h.Version == version) is not { } earlier) return NotFound();
        return await SaveAsync(earlier.SiteId, earlier.Name, earlier.Mapping, retired: false, $"Version {version} is in force again.", ct);
    }

    public async Task<IActionResult> OnPostRetireAsync(CancellationToken ct)
    {
        if (!await FindAsync(ct) || Current is not { Retired: false } current) return NotFound();
        return await SaveAsync(current.SiteId, current.Name, current.Mapping, retired: true,
            "The mapping is out of use. Any version can be put in force again.", ct);
    }

    private async Task<IActionResult> SaveAsync(SiteId site, string name, ColumnMapping mapping, bool retired, string done,
        CancellationToken ct)
    {
        var saved = await mappings.SaveAsync(Current, site, name, mapping, viewer.PersonId!.Value, ct, retired);
        if (saved.Refusal is { } refusal)
        {
            ModelState.AddModelError("Form.Name", refusal == MappingRefusal.NameTaken
                ? "Another mapping of the site in force has this name." : "Somebody saved a version meanwhile. Open the mapping again.");
            return await AgainAsync(ct);
        }

        var others = retired ? [] : await mappings.OfSameHeaderAsync(saved.MappingId, ct);
        TempData["Done"] = others.Count == 0 ? done
            : $"{done} Other mappings in force have the same header ({string.Join(", ", others)}): a file with it is refused until its "
                + "sender names one, or all but one are taken out of use.";
        return Redirect($"/submissions/mappings/{saved.MappingId}");
    }

    /// <summary>The mapping the form states and the site it is for; null after saying what is wrong.</summary>
    private async Task<(SiteId Site, ColumnMapping Mapping)?> TryAsync(CancellationToken ct)
    {
        if (string.IsNullOrWhiteSpace(Form.Name) || Form.Name.Trim().Length > 60)
            ModelState.AddModelError("Form.Name", "A name of 1 to 60 characters.");
        if (Current is { } current && Form.BasedOn != current.Version)
            ModelState.AddModelError("Form.Name", "Somebody saved a version meanwhile. Open the mapping again.");
        var site = Current?.SiteId ?? await sites.ForAsync(Form.Site, viewer, ct);
        if (site is null) ModelState.AddModelError("Form.Site", "Choose the site whose files it reads.");
        if (Form.Columns.Count is 0 or > 500 || Form.Fixed.Count > 50)
            ModelState.AddModelError("SampleFile", "Choose a sample of the files it is to read.");
        var problems = new List<FileProblem>();
        var mapping = Form.ToMapping(problems);
        problems.AddRange(mapping.Problems());
        Problems = problems;
        return site is { } found && ModelState.IsValid && problems.Count == 0 ? (found, mapping) : null;
    }

    private async Task<IActionResult> PreviewAsync(CancellationToken ct)
    {
        if (await TryAsync(ct) is not { } read) return await AgainAsync(ct);
        if (Form.SampleRows() is { } sample)
        {
            await using var connection = await source.OpenConnectionAsync(ct);
            var check = (await KnownSites.ReadAsync(connection, ct)).Check(clock.Today, read.Site);
            var statesKind = read.Mapping.Fixed.ContainsKey("kind") || read.Mapping.Columns.Any(c => c.Field == "kind");
            (Problems, Rows) = PreviewMapping.Run(sample, read.Mapping, !statesKind
                && Codes.TryParse<RowKind>(Form.Kind, out var kind) ? kind : null, check);
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
