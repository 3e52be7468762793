using FluentValidation;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Intake.Applying;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using Registry.Ui;

namespace Registry.Intake.Receiving;

/// <summary>What a person states with an uploaded file.</summary>
public sealed class UploadForm
{
    public IFormFile? File { get; set; }
    public string? Kind { get; set; }
    public string? Site { get; set; }

    /// <summary>Name of a workbook's sheet; the first that is shown without it.</summary>
    public string? Sheet { get; set; }

    /// <summary>Name of a column mapping of the site; without it the header decides.</summary>
    public string? Mapping { get; set; }
}

public sealed class UploadFormValidator : AbstractValidator<UploadForm>
{
    public UploadFormValidator()
    {
        RuleFor(f => f.File).NotNull().WithMessage("Choose a file.");
        RuleFor(f => f.File!.Length).GreaterThan(0).When(f => f.File is not null).OverridePropertyName("File")
            .WithMessage("The file is empty.");
        RuleFor(f => f.File!.FileName).Must(n => FileNames.FormatOf(n) is not null).When(f => f.File is not null)
            .OverridePropertyName("File")
            .WithMessage("The file's name must end in .csv, .xlsx, .json, .ndjson, .hl7 or .fwf; .gz may follow all but .xlsx and .hl7.");
        RuleFor(f => f.Kind).Must(k => Codes.TryParse<RowKind>(k, out _)).When(f => !string.IsNullOrEmpty(f.Kind))
            .WithMessage("Choose what the rows report.");
    }
}

/// <summary>Takes a file from a person, or tries it. The file goes through the same door as a system's.</summary>
[Authorize(Policy = Permissions.SubmitForSite), LimitedIntake]
[DisableRequestSizeLimit, RequestFormLimits(MultipartBodyLengthLimit = 4_000_000_000)]
public sealed class UploadModel(
    ReceiveSubmission receive, ProcessSubmission process, TryRows dryRun, SiteChoices choices, FindSite sites,
    IValidator<UploadForm> validator,
    ProgramClock clock, Viewer viewer, IOptions<IntakeOptions> options) : PageModel
{
    [BindProperty] public UploadForm Upload { get; set; } = new();

    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public IntakeOptions Limits => options.Value;

    /// <summary>What trying the file showed.</summary>
    public DryRun? Trial { get; private set; }

    public async Task OnGetAsync(CancellationToken ct) => await LoadAsync(ct);

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (await SentAsync(ct) is not { } sent) return await AgainAsync(ct);
        await using var body = Upload.File!.OpenReadStream();
        var receipt = await receive.ReceiveAsync(sent, body, ct);
        if (receipt.Kind == ReceiptKind.TooLarge)
        {
            ModelState.AddModelError("Upload.File", $"The file is larger than {options.Value.MaxBytes / 1048576} MiB. Split it.");
            return await AgainAsync(ct);
        }

        if (receipt.Kind == ReceiptKind.Received)
        {
            if (receipt.RowCount <= options.Value.InlineRows) await process.RunAsync(receipt.Id.Value, CancellationToken.None);
            else SubmitRows.Nudge(HttpContext, receipt.Id);
        }

        return Redirect($"/submissions/{receipt.Id}");
    }

    /// <summary>What would become of the rows; nothing is stored.</summary>
    public async Task<IActionResult> OnPostTryAsync([FromServices] AuditReads audit, CancellationToken ct)
    {
        if (await SentAsync(ct) is not { } sent) return await AgainAsync(ct);
        await using var body = Upload.File!.OpenReadStream();
        Trial = await dryRun.RunAsync(sent, body, viewer, audit, ct);
        if (Trial is null)
        {
            ModelState.AddModelError(
                "Upload.File", $"A file of more than {options.Value.DryRunBytes / 1048576} MiB cannot be tried. Try a part of it.");
            return await AgainAsync(ct);
        }

        await LoadAsync(ct);
        return Page();
    }

    /// <summary>What the form states, or null after saying what is wrong with it.</summary>
    private async Task<SentFile?> SentAsync(CancellationToken ct)
    {
        var checks = await validator.ValidateAsync(Upload, ct);
        foreach (var error in checks.Errors) ModelState.AddModelError($"Upload.{error.PropertyName}", error.ErrorMessage);
        if (await sites.ForAsync(Upload.Site, viewer, ct) is not { } site)
        {
            ModelState.AddModelError("Upload.Site", "Choose the site the rows come from.");
            return null;
        }

        if (!ModelState.IsValid) return null;
        var (format, gzip) = FileNames.FormatOf(Upload.File!.FileName)!.Value;
        return new(site, format, new(null, viewer.PersonId), clock.Now)
        {
            DefaultKind = string.IsNullOrEmpty(Upload.Kind) ? null : Codes.Parse<RowKind>(Upload.Kind),
            FileName = Path.GetFileName(Upload.File.FileName),
            Gzip = gzip,
            Sheet = string.IsNullOrWhiteSpace(Upload.Sheet) ? null : Upload.Sheet,
            Mapping = string.IsNullOrWhiteSpace(Upload.Mapping) ? null : Upload.Mapping,
        };
    }

    private async Task<IActionResult> AgainAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return Page();
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        Sites = await choices.AllAsync(ct);
    }
}
