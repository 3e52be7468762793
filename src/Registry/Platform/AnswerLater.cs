using System.Globalization;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Mvc;
using Registry.Platform.Data;

namespace Registry.Platform;

/// <summary>Why a request is not answered now.</summary>
/// <param name="Status">429 or 503; 400 when it never will be.</param>
/// <param name="Seconds">When it is to be sent again; null: not as it was.</param>
/// <param name="Title">What is the matter.</param>
/// <param name="Detail">What became of the request, and what to do.</param>
/// <param name="Issue">The kind of issue it is in FHIR.</param>
public sealed record Later(int Status, int? Seconds, string Title, string Detail, string Issue);

/// <summary>Says it as the interface that was asked says such things: problem+json under <c>/api</c>, an OperationOutcome under
/// <c>/fhir</c>.</summary>
public static class AnswerLater
{
    /// <returns>False for a page: status and Retry-After are set, and the page of problems has the words.</returns>
    public static async Task<bool> WriteAsync(HttpContext http, PathString asked, Later later, CancellationToken ct)
    {
        http.Response.StatusCode = later.Status;
        http.Response.Headers.RetryAfter = later.Seconds?.ToString(CultureInfo.InvariantCulture);
        if (asked.StartsWithSegments("/api"))
            await JsonAsync(
                new ProblemDetails { Status = later.Status, Title = later.Title, Detail = later.Detail }, "application/problem+json");
        else if (asked.StartsWithSegments("/fhir"))
            await JsonAsync(new
            {
                resourceType = "OperationOutcome",
                issue = new[] { new { severity = "error", code = later.Issue, diagnostics = $"{later.Title}. {later.Detail}" } },
            }, "application/fhir+json; charset=utf-8");
        else
            return false;
        return true;

        Task JsonAsync<T>(T body, string type) => http.Response.WriteAsJsonAsync(body, options: null, contentType: type, ct);
    }
}

/// <summary>503 and when to come again while the database does not answer, whatever was asked for, to programs and people alike.</summary>
internal sealed class AnswerOutage(ILogger<AnswerOutage> log) : IExceptionHandler
{
    public async ValueTask<bool> TryHandleAsync(HttpContext httpContext, Exception exception, CancellationToken cancellationToken)
    {
        if (!DatabaseOutage.IsCauseOf(exception)) return false;
        log.LogError("The database does not answer: {Error}", DatabaseOutage.Name(exception));
        var asked = httpContext.Features.Get<IExceptionHandlerPathFeature>()?.Path ?? httpContext.Request.Path;
        var later = new Later(
            StatusCodes.Status503ServiceUnavailable, DatabaseOutage.RetryAfterSeconds, "The database does not answer at the moment",
            $"Nothing is acknowledged. Send it again unchanged after {DatabaseOutage.RetryAfterSeconds} s: what was recorded counts once.",
            "transient");
        if (!await AnswerLater.WriteAsync(httpContext, asked, later, cancellationToken))
            await WritePageAsync(httpContext, later, cancellationToken);
        return true;
    }

    /// <summary>A page that asks the database nothing, as the layout of the others does.</summary>
    private static Task WritePageAsync(HttpContext http, Later later, CancellationToken ct)
    {
        http.Response.ContentType = "text/html; charset=utf-8";
        return http.Response.WriteAsync(
            $"""
            <!DOCTYPE html>
            <html lang="en">
            <head>
              <meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
              <title>{later.Title}</title><link rel="stylesheet" href="/css/registry.css">
            </head>
            <body><main class="narrow"><h1>{later.Title}</h1><p>{later.Detail}</p><p><a href="">Try again</a></p></main></body>
            </html>
            """, ct);
    }
}
