using System.Globalization;
using Hl7.Fhir.Model;
using Npgsql;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;
using IssueType = Hl7.Fhir.Model.OperationOutcome.IssueType;

namespace Registry.Fhir;

/// <summary>What was posted.</summary>
/// <param name="Body">The Bundle, or the one that was put around a resource.</param>
/// <param name="Site">Whose it is.</param>
/// <param name="Resource">The type of the only resource that was sent; null for a Bundle.</param>
public sealed record Posted(byte[] Body, SiteId Site, string? Resource)
{
    private const string Wrapped = "Bundle.entry[0].";

    /// <summary>A path of the wrapper as a path of what was sent.</summary>
    public string Unwrapped(string path) => Resource is null ? path
        : path.StartsWith(Wrapped + "resource", StringComparison.Ordinal) ? Resource + path[(Wrapped + "resource").Length..]
        : path.StartsWith(Wrapped, StringComparison.Ordinal) ? path[Wrapped.Length..] : Resource;
}

/// <summary>What is answered to a POST under <c>/fhir</c>: the entries' outcomes, read from the bytes and what is committed, or an
/// OperationOutcome.</summary>
public sealed class AnswerPost(ReadSubmissions read, NpgsqlDataSource source, ProgramClock clock, ILogger<AnswerPost> log)
{
    public async Task<FhirResult> OfAsync(HttpContext http, Posted posted, Submitted submitted, CancellationToken ct) => submitted switch
    {
        Submitted.Tried { Trial.Errors: { Count: > 0 } errors } => Unreadable(posted, errors),
        Submitted.Tried tried => Answer(posted, new(await TranslateAsync(posted, ct), tried.Trial.Outcomes, new Dictionary<int, Guid>())
        {
            IsTrial = true,
        }),
        Submitted.Stored stored => await StoredAsync(http, posted, stored.Id, ct),
        Submitted.Nothing { Why: NotStored.SlowedDown } slowed => SlowedDown(http, slowed.Seconds),
        Submitted.Nothing nothing => Of(http, nothing.Why),
        _ => Fault(http),
    };

    /// <summary>What is committed, whoever committed it: the first request, a repeated one, or the sweep.</summary>
    private async Task<FhirResult> StoredAsync(HttpContext http, Posted posted, SubmissionId id, CancellationToken ct)
    {
        var (status, rows) = await read.AnswerAsync(id, int.MaxValue, ct);
        http.Response.Headers["X-Submission"] = FollowSubmission.Location(id);
        if (status.IsRefused) return Unreadable(posted, status.Errors);
        if (rows is null)
        {
            log.LogWarning("Submission {SubmissionId} is still processed elsewhere", id.Value);
            return Later(http, 503, IssueType.Timeout,
                "stored and being processed; send it again with the same Idempotency-Key, or follow X-Submission");
        }

        return Answer(posted, new(await TranslateAsync(posted, ct), rows, await RecordedFactIds.LoadAsync(source, id, rows, ct)));
    }

    private Task<TranslatedBundle> TranslateAsync(Posted posted, CancellationToken ct) =>
        ReadFhirRows.TranslateAsync(ParseBundle.Read(posted.Body), clock.Zone, new KnownPatients(source, posted.Site), ct);

    private static FhirResult Answer(Posted posted, AnswerBundle answer) =>
        posted.Resource is not null ? answer.Alone(posted.Unwrapped) : answer.Refusal() ?? new FhirResult(200, answer.Response());

    private static FhirResult Unreadable(Posted posted, IEnumerable<FileProblem> problems) => FhirResult.Problem(
        400, problems.Select(p => new FhirIssue(
            p.Row == 0 ? null : p.Row - 1, OperationOutcome.IssueSeverity.Error, IssueType.Invalid, posted.Unwrapped(p.Field ?? "Bundle"),
            p.Reason)));

    private static FhirResult Of(HttpContext http, NotStored why) => why switch
    {
        NotStored.TooLarge => TooLarge(),
        NotStored.StorageFull => FhirResult.Problem(507, IssueType.TooCostly,
            "the storage of this site is full; nothing was stored: ask the registry for more, then send it again"),
        NotStored.TooLargeToTry => FhirResult.Problem(
            413, IssueType.TooLong, "the body is too large for a dry run; nothing was stored"),
        NotStored.KeyReused => FhirResult.Problem(
            422, IssueType.Duplicate, "the Idempotency-Key was used for another body; nothing was stored"),
        NotStored.KeyInUse => Later(http, 409, IssueType.LockError, "a request with this Idempotency-Key is still running"),
        _ => Fault(http),
    };

    /// <summary>503: the database does not answer, or another fault of ours.</summary>
    public static FhirResult Fault(HttpContext http) => Later(http, 503, IssueType.Transient,
        "a fault of the registry: send it again, unchanged; what was recorded counts once");

    public static FhirResult TooLarge() =>
        FhirResult.Problem(413, IssueType.TooLong, $"send at most {ParseBundle.MaxBytes} bytes at once");

    /// <param name="status">The HTTP status: why the body did not arrive.</param>
    public static FhirResult NotArrived(int status) => FhirResult.Problem(
        status, status == 413 ? IssueType.TooLong : IssueType.Incomplete, "the body is too large or broke off; nothing was stored");

    public static FhirResult NoObject() =>
        FhirResult.Problem(400, IssueType.Structure, "the body is not one well-formed JSON object");

    public static FhirResult NotValid(string what) => FhirResult.Problem(400, IssueType.Invalid, what);

    /// <param name="stated">The site that was stated.</param>
    public static FhirResult WhichSite(string? stated) => stated is null
        ? FhirResult.Problem(400, IssueType.Required, "the sender belongs to no site: say which one, ?site=code")
        : FhirResult.Problem(403, IssueType.Forbidden, "there is no such site, or it is not yours to submit for");

    private static FhirResult SlowedDown(HttpContext http, int seconds)
    {
        http.Response.Headers.RetryAfter = seconds.ToString(CultureInfo.InvariantCulture);
        return FhirResult.Problem(429, IssueType.Throttled, "many card ids led nowhere today; nothing was stored: send it again later");
    }

    private static FhirResult Later(HttpContext http, int status, IssueType type, string text)
    {
        http.Response.Headers.RetryAfter = DatabaseOutage.RetryAfterSeconds.ToString(CultureInfo.InvariantCulture);
        return FhirResult.Problem(status, type, text);
    }
}
