using System.Net.Mime;
using FluentValidation;
using Hangfire;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Mvc;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake;

/// <summary>What a sender states beside the body of <c>POST /api/v1/submissions</c>.</summary>
public sealed record SubmitRequest
{
    /// <summary>What every row reports, for files without a kind column.</summary>
    [FromQuery(Name = "kind")] public string? Kind { get; init; }

    /// <summary>Code of the site the rows come from; a site's key and people may leave it out.</summary>
    [FromQuery(Name = "site")] public string? Site { get; init; }

    /// <summary>Sent again with the same key, the same bytes are not processed twice.</summary>
    [FromHeader(Name = "Idempotency-Key")] public string? IdempotencyKey { get; init; }
}

/// <summary>What the request itself must satisfy; the rows have their own checks.</summary>
public sealed class SubmitRequestValidator : AbstractValidator<SubmitRequest>
{
    public SubmitRequestValidator()
    {
        RuleFor(r => r.Kind).Must(k => Codes.TryParse<RowKind>(k, out _)).When(r => r.Kind is not null).OverridePropertyName("kind")
            .WithMessage($"unknown code; it is one of: {string.Join(", ", Codes.All<RowKind>())}");
        RuleFor(r => r.IdempotencyKey).Length(1, 200).When(r => r.IdempotencyKey is not null).OverridePropertyName("Idempotency-Key")
            .WithMessage("has 1 to 200 characters");
    }
}

/// <summary>Takes rows from a site's system: committed before it answers, processed at once when they are few.</summary>
public static class SubmitRows
{
    public static async Task<IResult> PostAsync(
        [AsParameters] SubmitRequest request, HttpContext http, Viewer viewer, IValidator<SubmitRequest> validator, FindSite sites,
        ReceiveSubmission receive, ProcessSubmission process, SubmitTogether together, ReadSubmissions read, ProgramClock clock, IOptions<IntakeOptions> options,
        CancellationToken ct)
    {
        var checks = await validator.ValidateAsync(request, ct);
        if (!checks.IsValid)
            return Problem(400, "The request is not valid", [.. checks.Errors.Select(e => new FileProblem(0, e.PropertyName, e.ErrorMessage))]);
        if (FormatOf(http.Request.ContentType) is not { } format)
            return Problem(415, "This content type is not accepted", [new(0, "Content-Type", "is one of text/csv, application/json, application/x-ndjson, in UTF-8, or application/hl7-v2")]);
        if (http.Request.Headers.ContentEncoding.Count > 0)
            return Problem(415, "This content encoding is not accepted", [new(0, "Content-Encoding", "send the body as it is")]);
        if (await sites.ForAsync(request.Site, viewer, ct) is not { } site)
            return Problem(request.Site is null ? 400 : 403, "For which site?",
                [new(0, "site", request.Site is null ? "is required: the sender belongs to no site" : "there is no such site, or it is not yours to submit for")]);

        if (http.Features.Get<IHttpMaxRequestBodySizeFeature>() is { IsReadOnly: false } limit) limit.MaxRequestBodySize = options.Value.MaxBytes + 1;
        RowKind? kind = request.Kind is { } k ? Codes.Parse<RowKind>(k) : null;
        var body = http.Request.Body;
        Receipt receipt;
        try
        {
            if (format != SubmissionFormat.Hl7V2 && http.Request.ContentLength is > 0 and <= SubmitTogether.MaxBytes)
            {
                var small = new byte[(int)http.Request.ContentLength];
                await body.ReadExactlyAsync(small, ct);
                var by = new ReceivedBy(viewer.SiteKeyId, viewer.PersonId);
                if (await together.TryAsync(site, format, kind, small, by, clock.Now, request.IdempotencyKey) is { } stored)
                    return stored.Answer is { } answer ? Finished(http, answer) : await AnswerAsync(http, read, new(ReceiptKind.Received, stored.Id, 0, []), options.Value, ct);
                body = new MemoryStream(small);
            }

            receipt = await receive.ReceiveAsync(
                site, format, kind, body, new(viewer.SiteKeyId, viewer.PersonId), clock.Now, null, request.IdempotencyKey, ct);
        }
        catch (BadHttpRequestException e)
        {
            return Problem(e.StatusCode, e.StatusCode == 413 ? "The body is too large" : "The body broke off",
                [new(0, null, e.StatusCode == 413 ? $"send at most {options.Value.MaxBytes} bytes at once" : "nothing was stored; send it again")]);
        }

        switch (receipt.Kind)
        {
            case ReceiptKind.TooLarge:
                return Problem(413, "The body is too large", [new(0, null, $"send at most {options.Value.MaxBytes} bytes at once")]);
            case ReceiptKind.KeyReused:
                return Problem(422, "The Idempotency-Key was used before", [new(0, "Idempotency-Key", "was used for another body; nothing was stored")]);
            case ReceiptKind.KeyInUse:
                http.Response.Headers.RetryAfter = "5";
                return Problem(409, "The same submission is being received", [new(0, "Idempotency-Key", "a request with this key is still running")]);
            case ReceiptKind.Received when receipt.RowCount <= options.Value.InlineRows:
                await process.RunAsync(receipt.Id.Value, CancellationToken.None);
                break;
            case ReceiptKind.Received:
                Nudge(http, receipt.Id);
                break;
        }

        if (format == SubmissionFormat.Hl7V2 && receipt.RowCount <= options.Value.InlineRows && !V2.AnswerInHttp.AsksForJson(http))
            return await V2.AnswerInHttp.RunAsync(http, receipt, ct);
        return await AnswerAsync(http, read, receipt, options.Value, ct);
    }

    /// <summary>The state of the submission as it is now: the same answer for the first request and for a repeated one.</summary>
    private static async Task<IResult> AnswerAsync(
        HttpContext http, ReadSubmissions read, Receipt receipt, IntakeOptions options, CancellationToken ct)
    {
        var status = (await read.StatusAsync(receipt.Id, ct))!;
        var location = $"/api/v1/submissions/{receipt.Id}";
        if (status.State == Codes.Of(SubmissionState.Refused))
            return Problem(400, "The file cannot be read; nothing in it was applied", status.Errors, location);
        if (status.State == Codes.Of(SubmissionState.Done) && status.Rows <= options.InlineRows)
            return Finished(http, new(status, (await read.RowsAsync(receipt.Id, new RowFilter(), 0, options.InlineRows, ct)).Rows));

        if (receipt.Kind == ReceiptKind.Repeated && status.Rows <= options.InlineRows)
        {
            http.Response.Headers.RetryAfter = "5";
            return Problem(409, "The same submission is being processed", [new(0, "Idempotency-Key", "a request with this key is still running")], location);
        }

        http.Response.Headers.RetryAfter = "2";
        return Results.Accepted(location, new SubmissionAnswer(status, null));
    }

    private static IResult Finished(HttpContext http, SubmissionAnswer answer)
    {
        http.Response.Headers.Location = $"/api/v1/submissions/{answer.Submission.Id}";
        return Results.Ok(answer);
    }

    /// <summary>Starts a background run; without a job server the sweep will find the submission.</summary>
    internal static void Nudge(HttpContext http, SubmissionId id) =>
        http.RequestServices.GetService<IBackgroundJobClient>()?.Enqueue<ProcessSubmission>(p => p.RunAsync(id.Value, CancellationToken.None));

    internal static IResult Problem(int status, string title, IReadOnlyList<FileProblem> errors, string? submission = null) =>
        Results.Problem(statusCode: status, title: title, extensions: submission is null
            ? new Dictionary<string, object?> { ["errors"] = errors }
            : new Dictionary<string, object?> { ["errors"] = errors, ["submission"] = submission });

    private static SubmissionFormat? FormatOf(string? contentType)
    {
        if (contentType is null || !System.Net.Http.Headers.MediaTypeHeaderValue.TryParse(contentType, out var type)) return null;
        if (string.Equals(type.MediaType, V2.AnswerInHttp.ContentType, StringComparison.OrdinalIgnoreCase)) return SubmissionFormat.Hl7V2;
        if (type.CharSet is { } charset && !charset.Trim('"').Equals("utf-8", StringComparison.OrdinalIgnoreCase)) return null;
        return type.MediaType?.ToLowerInvariant() switch
        {
            MediaTypeNames.Text.Csv => SubmissionFormat.Csv,
            MediaTypeNames.Application.Json => SubmissionFormat.Json,
            "application/x-ndjson" => SubmissionFormat.Ndjson,
            _ => null,
        };
    }
}
