using System.Net.Mime;
using FluentValidation;
using Hangfire;
using Microsoft.AspNetCore.Http.Features;
using Microsoft.AspNetCore.Mvc;
using Microsoft.Extensions.Options;
using Registry.Access;
using Registry.Intake.Applying;
using Registry.Intake.Formats;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Intake.Receiving;

/// <summary>What a sender states beside the body of <c>POST /api/v1/submissions</c>.</summary>
public sealed record SubmitRequest
{
    /// <summary>What every row reports, for files without a kind column.</summary>
    [FromQuery(Name = "kind")] public string? Kind { get; init; }

    /// <summary>Code of the site the rows come from; a site's key and people may leave it out.</summary>
    [FromQuery(Name = "site")] public string? Site { get; init; }

    /// <summary>Name of the site's column mapping, for files with other columns than ours; without it the header decides.</summary>
    [FromQuery(Name = "mapping")] public string? Mapping { get; init; }

    /// <summary>Name of a workbook's sheet; the first that is shown without it.</summary>
    [FromQuery(Name = "sheet")] public string? Sheet { get; init; }

    /// <summary><c>true</c>: say what would become of every row, and store nothing.</summary>
    [FromQuery(Name = "dry_run")] public string? DryRun { get; init; }

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
        RuleFor(r => r.DryRun).Must(d => d is "true" or "false").When(r => r.DryRun is not null).OverridePropertyName("dry_run")
            .WithMessage("is true or false");
        RuleFor(r => r.Mapping).Length(1, 100).When(r => r.Mapping is not null).OverridePropertyName("mapping")
            .WithMessage("has 1 to 100 characters");
        RuleFor(r => r.Sheet).Length(1, 100).When(r => r.Sheet is not null).OverridePropertyName("sheet")
            .WithMessage("has 1 to 100 characters");
        RuleFor(r => r.IdempotencyKey).Length(1, 200).When(r => r.IdempotencyKey is not null).OverridePropertyName("Idempotency-Key")
            .WithMessage("has 1 to 200 characters");
    }
}

/// <summary>Takes rows from a site's system: committed before it answers, processed at once when they are few.</summary>
public static class SubmitRows
{
    /// <summary>Media type of a workbook (IANA).</summary>
    public const string Xlsx = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

    public static async Task<IResult> PostAsync(
        [AsParameters] SubmitRequest request, HttpContext http, Viewer viewer, IValidator<SubmitRequest> validator, FindSite sites,
        ReceiveSubmission receive, ProcessSubmission process, SubmitTogether together, TryRows dryRun, ReadSubmissions read,
        AuditReads audit, ProgramClock clock, IOptions<IntakeOptions> options,
        CancellationToken ct)
    {
        var checks = await validator.ValidateAsync(request, ct);
        if (!checks.IsValid)
            return Problem(400, "The request is not valid",
                [.. checks.Errors.Select(e => new FileProblem(0, e.PropertyName, e.ErrorMessage))]);
        if (FormatOf(http.Request.ContentType) is not var (format, encoding))
        {
            return Problem(415, "This content type is not accepted",
                [new(0, "Content-Type",
                    $"is one of text/csv, application/json, application/x-ndjson, {Xlsx}, application/hl7-v2, or text/plain for a "
                    + "vital-records file; charset is utf-8, utf-16 or windows-1252, for JSON utf-8")]);
        }

        var coding = http.Request.Headers.ContentEncoding.ToString();
        var gzip = coding.Equals("gzip", StringComparison.OrdinalIgnoreCase);
        if (coding.Length > 0 && (!gzip || format is SubmissionFormat.Xlsx or SubmissionFormat.Hl7V2))
            return Problem(415, "This content encoding is not accepted",
                [new(0, "Content-Encoding", "is gzip, for CSV, JSON and fixed width, or nothing")]);
        if (await sites.ForAsync(request.Site, viewer, ct) is not { } site)
            return Problem(request.Site is null ? 400 : 403, "For which site?",
                [new(0, "site", request.Site is null ? "is required: the sender belongs to no site"
                    : "there is no such site, or it is not yours to submit for")]);

        if (http.Features.Get<IHttpMaxRequestBodySizeFeature>() is { IsReadOnly: false } limit)
            limit.MaxRequestBodySize = options.Value.MaxBytes + 1;
        var sent = new SentFile(site, format, new(viewer.SiteKeyId, viewer.PersonId), clock.Now)
        {
            DefaultKind = request.Kind is { } k ? Codes.Parse<RowKind>(k) : null,
            IdempotencyKey = request.IdempotencyKey,
            Gzip = gzip,
            Encoding = encoding,
            Mapping = request.Mapping,
            Sheet = request.Sheet,
        };
        var body = http.Request.Body;
        AnswerInHttp.KeepHead? messages = null;
        Receipt receipt;
        try
        {
            if (request.DryRun == "true") return AnswerTrial(await dryRun.RunAsync(sent, body, viewer, audit, ct), options.Value);
            if (LimitIntake.IsSmall(http))
            {
                // Before a connection to the database is taken: however slowly it comes, nobody else waits for one.
                var small = new byte[(int)http.Request.ContentLength!];
                await body.ReadExactlyAsync(small, ct);
                if (GoesTogether(sent) && await together.TryAsync(sent, small) is { } stored)
                    return stored.Answer is { } answer ? Finished(http, answer) : await AnswerAsync(
                        http, read, new(ReceiptKind.Received, stored.Id, 0, []), options.Value, ct);
                body = new MemoryStream(small);
            }

            if (format == SubmissionFormat.Hl7V2 && !AnswerInHttp.AsksForJson(http)) body = messages = new AnswerInHttp.KeepHead(body);
            receipt = await receive.ReceiveAsync(sent, body, ct);
        }
        catch (Npgsql.NpgsqlException e) when (messages is not null)
        {
            return AnswerInHttp.Fault(http, messages.Head, e);
        }
        catch (BadHttpRequestException e)
        {
            return e.StatusCode switch
            {
                408 => Problem(408, "The body took too long",
                    [new(0, null, $"it must arrive within {options.Value.ReceiveSeconds} s; nothing was stored; send it again, packed "
                    + "with gzip or in parts")]),
                413 => Problem(413, "The body is too large", [new(0, null, $"send at most {options.Value.MaxBytes} bytes at once")]),
                _ => Problem(e.StatusCode, "The body broke off", [new(0, null, "nothing was stored; send it again")]),
            };
        }

        switch (receipt.Kind)
        {
            case ReceiptKind.TooLarge:
                return Problem(413, "The body is too large", [new(0, null, $"send at most {options.Value.MaxBytes} bytes at once")]);
            case ReceiptKind.KeyReused:
                return Problem(422, "The Idempotency-Key was used before",
                    [new(0, "Idempotency-Key", "was used for another body; nothing was stored")]);
            case ReceiptKind.KeyInUse:
                http.Response.Headers.RetryAfter = "5";
                return Problem(409, "The same submission is being received",
                    [new(0, "Idempotency-Key", "a request with this key is still running")]);
            case ReceiptKind.Received when receipt.RowCount <= options.Value.InlineRows && messages is null:
                await process.RunAsync(receipt.Id.Value, CancellationToken.None);
                break;
            case ReceiptKind.Received when receipt.RowCount > options.Value.InlineRows:
                Nudge(http, receipt.Id);
                break;
        }

        if (messages is not null && receipt.RowCount <= options.Value.InlineRows)
            return await AnswerInHttp.RunAsync(http, receipt, ct);
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
            return Problem(409, "The same submission is being processed",
                [new(0, "Idempotency-Key", "a request with this key is still running")], location);
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
        http.RequestServices.GetService<IBackgroundJobClient>()?.Enqueue<ProcessSubmission>(
            p => p.RunAsync(id.Value, CancellationToken.None));

    internal static IResult Problem(int status, string title, IReadOnlyList<FileProblem> errors, string? submission = null) =>
        Results.Problem(statusCode: status, title: title, extensions: submission is null
            ? new Dictionary<string, object?> { ["errors"] = errors }
            : new Dictionary<string, object?> { ["errors"] = errors, ["submission"] = submission });

    private static IResult AnswerTrial(DryRun? trial, IntakeOptions options) => trial switch
    {
        null => Problem(413, "The body is too large for a dry run",
            [new(0, null, $"send at most {options.DryRunBytes} bytes with dry_run, or send it in earnest: unreadable rows are told, not "
            + "applied")]),
        { Errors.Count: > 0 } => Problem(400, "The file cannot be read; nothing in it would be applied", trial.Errors),
        _ => Results.Ok(trial),
    };

    /// <summary>A workbook is opened where it is stored, and a named mapping is looked up: those go alone.</summary>
    private static bool GoesTogether(SentFile sent) =>
        sent is { Mapping: null, Format: SubmissionFormat.Csv or SubmissionFormat.Json or SubmissionFormat.Ndjson };

    private static (SubmissionFormat Format, TextEncoding? Encoding)? FormatOf(string? contentType)
    {
        if (contentType is null || !System.Net.Http.Headers.MediaTypeHeaderValue.TryParse(contentType, out var type)) return null;
        SubmissionFormat? known = type.MediaType?.ToLowerInvariant() switch
        {
            MediaTypeNames.Text.Csv => SubmissionFormat.Csv,
            MediaTypeNames.Text.Plain => SubmissionFormat.FixedWidth,
            MediaTypeNames.Application.Json => SubmissionFormat.Json,
            "application/x-ndjson" => SubmissionFormat.Ndjson,
            Xlsx => SubmissionFormat.Xlsx,
            AnswerInHttp.ContentType => SubmissionFormat.Hl7V2,
            _ => null,
        };
        if (known is not { } format) return null;
        if (type.CharSet is not { } charset || format is SubmissionFormat.Hl7V2 or SubmissionFormat.Xlsx) return (format, null);
        if (DetectEncoding.OfCharset(charset) is not { } encoding) return null;
        return encoding != TextEncoding.Utf8 && format is SubmissionFormat.Json or SubmissionFormat.Ndjson ? null : (format, encoding);
    }
}
