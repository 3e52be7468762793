using FluentValidation;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake;

/// <summary>What a person states with an uploaded file.</summary>
public sealed class UploadForm
{
    public IFormFile? File { get; set; }
    public string? Kind { get; set; }
    public string? Site { get; set; }
}

public sealed class UploadFormValidator : AbstractValidator<UploadForm>
{
    public UploadFormValidator()
    {
        RuleFor(f => f.File).NotNull().WithMessage("Choose a file.");
        RuleFor(f => f.File!.Length).GreaterThan(0).When(f => f.File is not null).OverridePropertyName("File").WithMessage("The file is empty.");
        RuleFor(f => f.File!.FileName).Must(n => UploadModel.FormatOf(n) is not null).When(f => f.File is not null).OverridePropertyName("File")
            .WithMessage("The file's name must end in .csv, .json, .ndjson or .hl7.");
        RuleFor(f => f.Kind).Must(k => Codes.TryParse<RowKind>(k, out _)).When(f => !string.IsNullOrEmpty(f.Kind)).WithMessage("Choose what the rows report.");
    }
}

/// <summary>Takes a file from a person. The file goes through the same door as a system's.</summary>
[Authorize(Policy = Permissions.SubmitForSite)]
[DisableRequestSizeLimit, RequestFormLimits(MultipartBodyLengthLimit = 4_000_000_000)]
public sealed class UploadModel(
    ReceiveSubmission receive, ProcessSubmission process, ListSubmissions list, FindSite sites, IValidator<UploadForm> validator,
    ProgramClock clock, Viewer viewer, IOptions<IntakeOptions> options) : PageModel
{
    [BindProperty] public UploadForm Upload { get; set; } = new();

    public IReadOnlyList<(SiteId Id, string Code, string Name)> Sites { get; private set; } = [];
    public IntakeOptions Limits => options.Value;

    public async Task OnGetAsync(CancellationToken ct) => await LoadAsync(ct);

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        var checks = await validator.ValidateAsync(Upload, ct);
        foreach (var error in checks.Errors) ModelState.AddModelError($"Upload.{error.PropertyName}", error.ErrorMessage);
        var site = await sites.ForAsync(Upload.Site, viewer, ct);
        if (site is null) ModelState.AddModelError("Upload.Site", "Choose the site the rows come from.");
        if (!ModelState.IsValid) return await AgainAsync(ct);

        var file = Upload.File!;
        await using var body = file.OpenReadStream();
        RowKind? kind = string.IsNullOrEmpty(Upload.Kind) ? null : Codes.Parse<RowKind>(Upload.Kind);
        var receipt = await receive.ReceiveAsync(
            site!.Value, FormatOf(file.FileName)!.Value, kind, body, new(null, viewer.PersonId), clock.Now, Path.GetFileName(file.FileName), null, ct);
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

    internal static SubmissionFormat? FormatOf(string fileName) => Path.GetExtension(fileName).ToLowerInvariant() switch
    {
        ".hl7" => SubmissionFormat.Hl7V2,
        ".csv" or ".txt" => SubmissionFormat.Csv,
        ".json" => SubmissionFormat.Json,
        ".ndjson" or ".jsonl" => SubmissionFormat.Ndjson,
        _ => null,
    };

    private async Task<IActionResult> AgainAsync(CancellationToken ct)
    {
        await LoadAsync(ct);
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return Page();
    }

    private async Task LoadAsync(CancellationToken ct)
    {
        if (viewer.IsCoordinator) Sites = await list.SitesAsync(ct);
    }
}
