using System.Text;
using System.Text.Json;
using Hl7.Fhir.Model;
using Microsoft.AspNetCore.Http.Features;
using Npgsql;
using Registry.Access;
using Registry.Intake.Applying;
using Registry.Intake.Formats;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Receiving;
using Registry.Intake.Rows;
using Registry.Intake.Submissions;
using Registry.Platform;
using Registry.Records;
using Registry.Rules.Facts;
using IssueType = Hl7.Fhir.Model.OperationOutcome.IssueType;

namespace Registry.Fhir;

/// <summary>Takes a Bundle, or one Patient or Observation, into the intake: stored, processed, answered entry by entry.</summary>
public sealed class PostBundle(
    FindSite sites, ReceiveSubmission receive, ProcessSubmission process, TryRows dryRun, ReadSubmissions read, NpgsqlDataSource source,
    ProgramClock clock,
    ILogger<PostBundle> log)
{
    private const string Wrapped = "Bundle.entry[0].";

    /// <summary><c>POST /fhir</c></summary>
    public static Task<IResult> BundleAsync(HttpContext http, Viewer viewer, AuditReads audit, PostBundle post, CancellationToken ct) =>
        post.RunAsync(http, viewer, audit, null, ct);

    /// <summary><c>POST /fhir/Patient</c>, <c>POST /fhir/Observation</c></summary>
    public static Task<IResult> PatientAsync(HttpContext http, Viewer viewer, AuditReads audit, PostBundle post, CancellationToken ct) =>
        post.RunAsync(http, viewer, audit, "Patient", ct);

    public static Task<IResult> ObservationAsync(HttpContext http, Viewer viewer, AuditReads audit, PostBundle post,
        CancellationToken ct) =>
        post.RunAsync(http, viewer, audit, "Observation", ct);

    private async Task<IResult> RunAsync(HttpContext http, Viewer viewer, AuditReads audit, string? single, CancellationToken ct)
    {
        var code = http.Request.Query["site"].ToString() is { Length: > 0 } stated ? stated : null;
        if (await sites.ForAsync(code, viewer, ct) is not { } site)
        {
            return code is null
                ? FhirResult.Problem(400, IssueType.Required, "the sender belongs to no site: say which one, ?site=code")
                : FhirResult.Problem(403, IssueType.Forbidden, "there is no such site, or it is not yours to submit for");
        }

        var key = http.Request.Headers["Idempotency-Key"].ToString() is { Length: > 0 } header ? header : null;
        if (key is { Length: > 200 }) return FhirResult.Problem(400, IssueType.Invalid, "Idempotency-Key has 1 to 200 characters");
        if (http.Request.Query["dry_run"].ToString() is { Length: > 0 } trial && trial is not ("true" or "false"))
            return FhirResult.Problem(400, IssueType.Invalid, "dry_run is true or false");
        var (body, refusal) = await ReadBodyAsync(http, ct);
        if (body is null) return refusal!;
        if (single is not null)
        {
            if (Wrap(body, single, http.Request.Headers["If-None-Exist"].ToString()) is not { } wrapped)
                return FhirResult.Problem(400, IssueType.Structure, "the body is not one well-formed JSON object");
            body = wrapped;
        }

        var sent = new SentFile(site, SubmissionFormat.Fhir, new(viewer.SiteKeyId, viewer.PersonId), clock.Now) { IdempotencyKey = key };
        try
        {
            return http.Request.Query["dry_run"] == "true" ? await TryAsync(sent, body, single, viewer, audit, ct) : await TakeInAsync(
                http, sent, body, single, ct);
        }
        catch (NpgsqlException e)
        {
            // The text of a database error can repeat values.
            log.LogError("A Bundle could not be taken in or worked through: {Error}",
                e is PostgresException p ? p.SqlState : e.GetType().Name);
            http.Response.Headers.RetryAfter = "5";
            return FhirResult.Problem(
                503, IssueType.Transient, "a fault of the registry: send it again, unchanged; what was recorded counts once");
        }
    }

    private async Task<IResult> TakeInAsync(HttpContext http, SentFile sent, byte[] body, string? single, CancellationToken ct)
    {
        var receipt = await receive.ReceiveAsync(sent, new MemoryStream(body), ct);
        switch (receipt.Kind)
        {
            case ReceiptKind.TooLarge:
                return FhirResult.Problem(413, IssueType.TooLong, $"send at most {ParseBundle.MaxBytes} bytes at once");
            case ReceiptKind.KeyReused:
                return FhirResult.Problem(422, IssueType.Duplicate, "the Idempotency-Key was used for another body; nothing was stored");
            case ReceiptKind.KeyInUse:
                http.Response.Headers.RetryAfter = "5";
                return FhirResult.Problem(409, IssueType.LockError, "a request with this Idempotency-Key is still running");
            case ReceiptKind.Received:
                await process.RunAsync(receipt.Id.Value, CancellationToken.None);
                break;
        }

        return await AnswerAsync(http, body, receipt.Id, sent.SiteId, single, ct);
    }

    /// <summary>What is committed, whoever committed it: the first request, a repeated one, or the sweep.</summary>
    private async Task<IResult> AnswerAsync(HttpContext http, byte[] body, SubmissionId id, SiteId site, string? single,
        CancellationToken ct)
    {
        var status = (await read.StatusAsync(id, ct))!;
        for (var waits = 0; !status.IsFinished && waits < 100; waits++)
        {
            await System.Threading.Tasks.Task.Delay(100, ct);
            status = (await read.StatusAsync(id, ct))!;
        }

        http.Response.Headers["X-Submission"] = $"/api/v1/submissions/{id}";
        if (status.State == Codes.Of(SubmissionState.Refused)) return Unreadable(status.Errors, single);

        if (!status.IsFinished)
        {
            log.LogWarning("Submission {SubmissionId} is still processed elsewhere", id.Value);
            http.Response.Headers.RetryAfter = "5";
            return FhirResult.Problem(
                503, IssueType.Timeout, "stored and being processed; send it again with the same Idempotency-Key, or follow X-Submission");
        }

        var bundle = await ReadFhirRows.TranslateAsync(ParseBundle.Read(body), clock.Zone, new KnownPatients(source, site), ct);
        var rows = await AllRowsAsync(id, ct);
        var answer = new AnswerBundle(bundle, rows, await RecordedFactIds.LoadAsync(source, id, rows, ct));
        return Answer(answer, single);
    }

    /// <summary>What would become of the body if it were sent in earnest at this moment; nothing of it is stored.</summary>
    private async Task<IResult> TryAsync(SentFile sent, byte[] body, string? single, Viewer viewer, AuditReads audit, CancellationToken ct)
    {
        if (await dryRun.RunAsync(sent, new MemoryStream(body), viewer, audit, ct) is not { } trial)
            return FhirResult.Problem(413, IssueType.TooLong, "the body is too large for a dry run; nothing was stored");
        if (trial.Errors.Count > 0) return Unreadable(trial.Errors, single);
        var bundle = await ReadFhirRows.TranslateAsync(ParseBundle.Read(body), clock.Zone, new KnownPatients(source, sent.SiteId), ct);
        return Answer(new AnswerBundle(bundle, trial.Outcomes, new Dictionary<int, Guid>()) { IsTrial = true }, single);
    }

    private static FhirResult Answer(AnswerBundle answer, string? single) =>
        single is not null ? answer.Alone(path => Unwrapped(path, single)) : answer.Refusal() ?? new FhirResult(200, answer.Response());

    private static FhirResult Unreadable(IEnumerable<FileProblem> problems, string? single) =>
        FhirResult.Problem(400, problems.Select(e => new FhirIssue(
        e.Row == 0 ? null : e.Row - 1, OperationOutcome.IssueSeverity.Error, IssueType.Invalid, Unwrapped(e.Field ?? "Bundle", single),
        e.Reason)));

    /// <summary>Paths of the wrapper as paths of what was sent.</summary>
    private static string Unwrapped(string path, string? single) => single is null ? path
        : path.StartsWith(Wrapped + "resource", StringComparison.Ordinal) ? single + path[(Wrapped + "resource").Length..]
        : path.StartsWith(Wrapped, StringComparison.Ordinal) ? path[Wrapped.Length..] : single;

    private async Task<IReadOnlyList<RowReport>> AllRowsAsync(SubmissionId id, CancellationToken ct)
    {
        var rows = new List<RowReport>();
        for (RowPage? page = null; page is null || page.Next is not null;)
        {
            page = await read.RowsAsync(id, new RowFilter(), rows.Count == 0 ? 0 : rows[^1].Row, 2_000, ct);
            rows.AddRange(page.Rows);
        }

        return rows;
    }

    private static async Task<(byte[]? Body, IResult? Refusal)> ReadBodyAsync(HttpContext http, CancellationToken ct)
    {
        if (http.Features.Get<IHttpMaxRequestBodySizeFeature>() is { IsReadOnly: false } limit)
            limit.MaxRequestBodySize = ParseBundle.MaxBytes + 1;
        var body = new MemoryStream();
        try
        {
            var buffer = new byte[64 * 1024];
            for (int read; (read = await http.Request.Body.ReadAsync(buffer, ct)) > 0;)
            {
                body.Write(buffer, 0, read);
                if (body.Length > ParseBundle.MaxBytes)
                    return (null, FhirResult.Problem(413, IssueType.TooLong, $"send at most {ParseBundle.MaxBytes} bytes at once"));
            }
        }
        catch (BadHttpRequestException e)
        {
            return (null, FhirResult.Problem(e.StatusCode, e.StatusCode == 413 ? IssueType.TooLong : IssueType.Incomplete,
                "the body is too large or broke off; nothing was stored"));
        }

        return (body.ToArray(), null);
    }

    /// <summary>One resource as a batch of one, its text as it was sent.</summary>
    private static byte[]? Wrap(byte[] body, string type, string ifNoneExist)
    {
        try
        {
            using var document = JsonDocument.Parse(body, new JsonDocumentOptions { MaxDepth = ParseBundle.MaxDepth - 4 });
            if (document.RootElement.ValueKind != JsonValueKind.Object) return null;
        }
        catch (JsonException)
        {
            return null;
        }

        var condition = ifNoneExist.Length == 0 ? "" : $",\"ifNoneExist\":{JsonSerializer.Serialize(ifNoneExist)}";
        return
        [
            .. Encoding.UTF8.GetBytes("{\"resourceType\":\"Bundle\",\"type\":\"batch\",\"entry\":[{\"resource\":"), .. body,
            .. Encoding.UTF8.GetBytes($",\"request\":{{\"method\":\"POST\",\"url\":\"{type}\"{condition}}}}}]}}"),
        ];
    }
}
