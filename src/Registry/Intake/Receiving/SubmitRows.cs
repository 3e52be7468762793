using FluentValidation;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Receiving;

/// <summary>The door for a site's system: <c>POST /api/v1/submissions</c>. Committed before it answers, processed at once when the rows
/// are few.</summary>
public sealed class SubmitRows(
    Submit submit, AnswerRequest answer, SubmitMessages messages, IValidator<SubmitRequest> validator, FindSite sites, ProgramClock clock,
    IOptions<IntakeOptions> options)
{
    public static Task<IResult> PostAsync(
        [AsParameters] SubmitRequest request, HttpContext http, Viewer viewer, SubmitRows door, AuditReads audit, CancellationToken ct) =>
        door.RunAsync(request, http, viewer, audit, ct);

    private async Task<IResult> RunAsync(
        SubmitRequest request, HttpContext http, Viewer viewer, AuditReads audit, CancellationToken ct)
    {
        var (sent, refusal) = await ReadAsync(request, http.Request, viewer, ct);
        if (sent is null) return refusal!;
        if (http.Features.Get<IHttpMaxRequestBodySizeFeature>() is { IsReadOnly: false } limit)
            limit.MaxRequestBodySize = options.Value.MaxBytes + 1;
        var isTrial = request.DryRun == "true";
        if (!isTrial && sent.Format == SubmissionFormat.Hl7V2 && !ContentTypes.AsksForJson(http.Request))
            return await messages.RunAsync(sent, http, ct);
        var submitted = isTrial
            ? await submit.TryAsync(sent, http.Request.Body, viewer, audit, ct)
            : await submit.RunAsync(sent, http.Request.Body, http.Request.ContentLength, submit.FewRows, ct);
        return await answer.OfAsync(http, submitted, ct);
    }

    /// <summary>What the request states, or what is wrong with it.</summary>
    private async Task<(SentFile? Sent, IResult? Refusal)> ReadAsync(
        SubmitRequest request, HttpRequest http, Viewer viewer, CancellationToken ct)
    {
        var checks = await validator.ValidateAsync(request, ct);
        if (!checks.IsValid) return (null, AnswerRequest.NotValid(checks.Errors));
        if (ContentTypes.FormatOf(http.ContentType) is not var (format, encoding)) return (null, AnswerRequest.NoSuchFormat());
        if (ContentTypes.IsGzip(http.Headers.ContentEncoding.ToString(), format) is not { } gzip)
            return (null, AnswerRequest.NoSuchCoding());
        if (await sites.ForAsync(request.Site, viewer, ct) is not { } site) return (null, AnswerRequest.WhichSite(request.Site));
        return (new(site, format, new(viewer.SiteKeyId, viewer.PersonId, viewer.Role), clock.Now)
        {
            DefaultKind = request.Kind is { } kind ? Codes.Parse<RowKind>(kind) : null,
            IdempotencyKey = request.IdempotencyKey,
            Gzip = gzip,
            Encoding = encoding,
            Mapping = request.Mapping,
            Sheet = request.Sheet,
        }, null);
    }
}
