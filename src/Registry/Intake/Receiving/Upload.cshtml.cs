using FluentValidation;
using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using Registry.Ui;

namespace Registry.Intake.Receiving;

/// <summary>The door for people: takes a file, or tries it.</summary>
[Authorize(Policy = Permissions.SubmitForSite), LimitedIntake]
[DisableRequestSizeLimit, RequestFormLimits(MultipartBodyLengthLimit = 4_000_000_000)]
public sealed class UploadModel(
    Submit submit, SiteChoices choices, FindSite sites, IValidator<UploadForm> validator, ProgramClock clock, Viewer viewer,
    IOptions<IntakeOptions> options) : PageModel
{
    [BindProperty] public UploadForm Upload { get; set; } = new();

    public IReadOnlyList<Site> Sites { get; private set; } = [];
    public IntakeOptions Limits => options.Value;

    /// <summary>What trying the file showed.</summary>
    public Trial? Trial { get; private set; }

    public async Task OnGetAsync(CancellationToken ct) => Sites = await choices.AllAsync(ct);

    public async Task<IActionResult> OnPostAsync(CancellationToken ct)
    {
        if (await SentAsync(ct) is not { } sent) return await AgainAsync(ct);
        await using var body = Upload.File!.OpenReadStream();
        return await submit.RunAsync(sent, body, length: null, submit.FewRows, ct) switch
        {
            Submitted.Stored stored => Redirect($"/submissions/{stored.Id}"),
            Submitted.Kept kept => Redirect($"/submissions/{kept.Id}"),
            Submitted.Nothing nothing => await RefuseAsync(nothing, ct),
            _ => throw new InvalidOperationException("A file sent in earnest was tried."),
        };
    }

    /// <summary>What would become of the rows; nothing is stored.</summary>
    public async Task<IActionResult> OnPostTryAsync([FromServices] AuditReads audit, CancellationToken ct)
    {
        if (await SentAsync(ct) is not { } sent) return await AgainAsync(ct);
        await using var body = Upload.File!.OpenReadStream();
        var tried = await submit.TryAsync(sent, body, viewer, audit, ct);
        if (tried is Submitted.Nothing nothing) return await RefuseAsync(nothing, ct);
        Trial = ((Submitted.Tried)tried).Trial;
        Sites = await choices.AllAsync(ct);
        return Page();
    }

    /// <summary>What the form states, or null after saying what is wrong with it.</summary>
    private async Task<SentFile?> SentAsync(CancellationToken ct)
    {
        var checks = await validator.ValidateAsync(Upload, ct);
        foreach (var error in checks.Errors) ModelState.AddModelError($"Upload.{error.PropertyName}", error.ErrorMessage);
        var site = await sites.ForAsync(Upload.Site, viewer, ct);
        if (site is null) ModelState.AddModelError("Upload.Site", UploadWords.ChooseSite);
        return ModelState.IsValid && site is { } known ? Upload.Sent(known, new(null, viewer.PersonId, viewer.Role), clock.Now) : null;
    }

    private async Task<IActionResult> RefuseAsync(Submitted.Nothing nothing, CancellationToken ct)
    {
        var why = nothing.Why;
        if (why == NotStored.Fault) return StatusCode(StatusCodes.Status500InternalServerError);
        if (why == NotStored.Outage)
        {
            Response.Headers.RetryAfter = DatabaseOutage.RetryAfterSeconds.ToString(System.Globalization.CultureInfo.InvariantCulture);
            return StatusCode(StatusCodes.Status503ServiceUnavailable);
        }

        ModelState.AddModelError("Upload.File", UploadWords.Of(why, Limits));
        var again = await AgainAsync(ct);
        if (why != NotStored.SlowedDown) return again;
        Response.Headers.RetryAfter = nothing.Seconds.ToString(System.Globalization.CultureInfo.InvariantCulture);
        Response.StatusCode = StatusCodes.Status429TooManyRequests;
        return again;
    }

    private async Task<IActionResult> AgainAsync(CancellationToken ct)
    {
        Sites = await choices.AllAsync(ct);
        Response.StatusCode = StatusCodes.Status422UnprocessableEntity;
        return Page();
    }
}
