using System.Text;
using System.Text.Json;
using Microsoft.AspNetCore.Http.Features;
using Npgsql;
using Registry.Access;
using Registry.Intake.Formats;
using Registry.Intake.Formats.Fhir;
using Registry.Intake.Receiving;
using Registry.Platform;
using Registry.Platform.Data;
using Registry.Records;

namespace Registry.Fhir;

/// <summary>The door for FHIR: takes a Bundle, or one Patient or Observation, into the intake; answered entry by entry when it is worked
/// through.</summary>
public sealed class PostBundle(FindSite sites, Submit submit, AnswerPost answer, ProgramClock clock, ILogger<PostBundle> log)
{
    /// <summary><c>POST /fhir</c></summary>
    public static Task<IResult> BundleAsync(HttpContext http, Viewer viewer, AuditReads audit, PostBundle post, CancellationToken ct) =>
        post.RunAsync(http, viewer, audit, null, ct);

    /// <summary><c>POST /fhir/Patient</c>, <c>POST /fhir/Observation</c></summary>
    public static Task<IResult> PatientAsync(HttpContext http, Viewer viewer, AuditReads audit, PostBundle post, CancellationToken ct) =>
        post.RunAsync(http, viewer, audit, "Patient", ct);

    public static Task<IResult> ObservationAsync(HttpContext http, Viewer viewer, AuditReads audit, PostBundle post,
        CancellationToken ct) =>
        post.RunAsync(http, viewer, audit, "Observation", ct);

    /// <param name="http">The request.</param>
    /// <param name="viewer">Who sends.</param>
    /// <param name="audit">Takes down that something was tried.</param>
    /// <param name="single">The type of the only resource that is sent; null for a Bundle.</param>
    /// <param name="ct">Cancels.</param>
    private async Task<IResult> RunAsync(HttpContext http, Viewer viewer, AuditReads audit, string? single, CancellationToken ct)
    {
        var (sent, refusal) = await StatedAsync(http.Request, viewer, ct);
        if (sent is null) return refusal!;
        (var body, refusal) = await BodyAsync(http, single, ct);
        if (body is null) return refusal!;
        try
        {
            var submitted = http.Request.Query["dry_run"] == "true"
                ? await submit.TryAsync(sent, new MemoryStream(body), viewer, audit, ct)
                : await submit.RunAsync(sent, new MemoryStream(body), length: null, Patience.UntilFinished, ct);
            return await answer.OfAsync(http, new(body, sent.SiteId, single), submitted, ct);
        }
        catch (NpgsqlException e)
        {
            log.LogError("A Bundle could not be tried or answered: {Error}", DatabaseOutage.Name(e));
            return AnswerPost.Fault(http);
        }
    }

    /// <summary>What the request states beside its body, or what is wrong with it.</summary>
    private async Task<(SentFile? Sent, IResult? Refusal)> StatedAsync(HttpRequest request, Viewer viewer, CancellationToken ct)
    {
        var code = request.Query["site"].ToString() is { Length: > 0 } stated ? stated : null;
        if (await sites.ForAsync(code, viewer, ct) is not { } site) return (null, AnswerPost.WhichSite(code));
        var key = request.Headers["Idempotency-Key"].ToString() is { Length: > 0 } header ? header : null;
        if (key is { Length: > 200 }) return (null, AnswerPost.NotValid("Idempotency-Key has 1 to 200 characters"));
        if (request.Query["dry_run"].ToString() is not ("" or "true" or "false"))
            return (null, AnswerPost.NotValid("dry_run is true or false"));
        return (new(site, SubmissionFormat.Fhir, new(viewer.SiteKeyId, viewer.PersonId), clock.Now) { IdempotencyKey = key }, null);
    }

    /// <summary>The bytes of a Bundle: what was sent, or the one resource that was, wrapped.</summary>
    private static async Task<(byte[]? Body, IResult? Refusal)> BodyAsync(HttpContext http, string? single, CancellationToken ct)
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
                if (body.Length > ParseBundle.MaxBytes) return (null, AnswerPost.TooLarge());
            }
        }
        catch (BadHttpRequestException e)
        {
            return (null, AnswerPost.NotArrived(e.StatusCode));
        }

        if (single is null) return (body.ToArray(), null);
        var wrapped = Wrap(body.ToArray(), single, http.Request.Headers["If-None-Exist"].ToString());
        return (wrapped, wrapped is null ? AnswerPost.NoObject() : null);
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
