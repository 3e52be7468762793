using System.Globalization;
using FluentValidation.Results;
using Microsoft.Extensions.Options;
using Registry.Intake.Raw;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Intake.Receiving;

/// <summary>What <c>POST /api/v1/submissions</c> answers: a submission's state and rows, or problem+json.</summary>
public sealed class AnswerRequest(ReadSubmissions read, IOptions<IntakeOptions> options)
{
    private static readonly string AfterOutage = DatabaseOutage.RetryAfterSeconds.ToString(CultureInfo.InvariantCulture);

    public async Task<IResult> OfAsync(HttpContext http, Submitted submitted, CancellationToken ct) => submitted switch
    {
        Submitted.Tried { Trial: { Errors.Count: > 0 } trial } =>
            ProblemAnswer.Of(400, "The file cannot be read; nothing in it would be applied", trial.Errors),
        Submitted.Tried tried => Results.Ok(tried.Trial),
        Submitted.Nothing { Why: NotStored.SlowedDown } slowed => SlowedDown(http, slowed.Seconds),
        Submitted.Nothing nothing => Of(http, nothing.Why),
        Submitted.Stored { Answer: { } answer } => Finished(http, answer),
        Submitted.Stored stored => Of(http, stored, await read.AnswerAsync(stored.Id, options.Value.InlineRows, ct)),
        Submitted.Kept kept => Kept(http, kept.Id),
        _ => throw new ArgumentOutOfRangeException(nameof(submitted)),
    };

    /// <summary>The state of the submission as it is now: the same answer for the first request and for a repeated one.</summary>
    private IResult Of(HttpContext http, Submitted.Stored stored, SubmissionAnswer answer)
    {
        if (answer.Rows is not null) return Finished(http, answer);
        var (status, location) = (answer.Submission, FollowSubmission.Location(stored.Id));
        if (status.IsRefused)
            return ProblemAnswer.Of(400, "The file cannot be read; nothing in it was applied", location, status.Errors);
        if (stored.IsRepeated && status.Rows <= options.Value.InlineRows)
        {
            http.Response.Headers.RetryAfter = "5";
            return ProblemAnswer.Of(409, "The same submission is being processed", location,
                new FileProblem(0, "Idempotency-Key", "a request with this key is still running"));
        }

        http.Response.Headers.RetryAfter = "2";
        return Results.Accepted(location, answer);
    }

    private static IResult Finished(HttpContext http, SubmissionAnswer answer)
    {
        http.Response.Headers.Location = FollowSubmission.Location(new(answer.Submission.Id));
        return Results.Ok(answer);
    }

    private static IResult Kept(HttpContext http, SubmissionId id)
    {
        http.Response.Headers.RetryAfter = AfterOutage;
        return ProblemAnswer.Of(503, "The rows are kept, but could not be worked through yet", FollowSubmission.Location(id),
            new FileProblem(0, null, "they are worked through in a while: follow the submission; sent again, each counts once"));
    }

    private static IResult SlowedDown(HttpContext http, int seconds)
    {
        http.Response.Headers.RetryAfter = seconds.ToString(System.Globalization.CultureInfo.InvariantCulture);
        return ProblemAnswer.Of(429, "Many card ids led nowhere today", null,
            "nothing was stored; what was stored before stays and waits; check the card ids, and send it again later");
    }

    private IResult Of(HttpContext http, NotStored why)
    {
        var limits = options.Value;
        if (why == NotStored.KeyInUse) http.Response.Headers.RetryAfter = "5";
        if (why == NotStored.Outage) http.Response.Headers.RetryAfter = AfterOutage;
        return why switch
        {
            NotStored.TooLarge => ProblemAnswer.Of(413, "The body is too large", null, $"send at most {limits.MaxBytes} bytes at once"),
            NotStored.StorageFull => ProblemAnswer.Of(507, "The storage of this site is full", null,
                $"a site may store {limits.BytesPerSite} bytes; nothing of this was stored, all that was acknowledged is kept: ask the "
                + "registry for more, then send it again"),
            NotStored.TooLargeToTry => ProblemAnswer.Of(413, "The body is too large for a dry run", null,
                $"send at most {limits.DryRunBytes} bytes with dry_run, or send it in earnest: unreadable rows are told, not applied"),
            NotStored.TooSlow => ProblemAnswer.Of(408, "The body took too long", null,
                $"it must arrive within {limits.ReceiveSeconds} s; nothing was stored; send it again, packed with gzip or in parts"),
            NotStored.BrokeOff => ProblemAnswer.Of(400, "The body broke off", null, "nothing was stored; send it again"),
            NotStored.KeyReused => ProblemAnswer.Of(422, "The Idempotency-Key was used before", "Idempotency-Key",
                "was used for another body; nothing was stored"),
            NotStored.KeyInUse => ProblemAnswer.Of(409, "The same submission is being received", "Idempotency-Key",
                "a request with this key is still running"),
            NotStored.Outage => ProblemAnswer.Of(503, "The database does not answer at the moment", null,
                "nothing is acknowledged; send it again, unchanged: what was recorded counts once"),
            _ => ProblemAnswer.Of(500, "A fault of the registry", null, "nothing of it is acknowledged"),
        };
    }

    internal static IResult NotValid(IEnumerable<ValidationFailure> errors) => ProblemAnswer.Of(
        400, "The request is not valid", [.. errors.Select(e => new FileProblem(0, e.PropertyName, e.ErrorMessage))]);

    internal static IResult NoSuchFormat() => ProblemAnswer.Of(415, "This content type is not accepted", "Content-Type",
        $"is one of text/csv, application/json, {ContentTypes.Ndjson}, {ContentTypes.Xlsx}, {ContentTypes.Hl7V2}, or text/plain for a "
        + "vital-records file; charset is utf-8, utf-16 or windows-1252, for JSON utf-8");

    internal static IResult NoSuchCoding() => ProblemAnswer.Of(415, "This content encoding is not accepted", "Content-Encoding",
        "is gzip, for CSV, JSON and fixed width, or nothing");

    /// <param name="stated">The site that was stated.</param>
    internal static IResult WhichSite(string? stated) => ProblemAnswer.Of(
        stated is null ? 400 : 403, "For which site?", "site",
        stated is null ? "is required: the sender belongs to no site" : "there is no such site, or it is not yours to submit for");
}
