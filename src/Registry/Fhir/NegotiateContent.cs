using Hl7.Fhir.Model;
using Microsoft.Net.Http.Headers;

namespace Registry.Fhir;

/// <summary>JSON only: XML sent is 415, XML asked for is 406 (R4, HTTP content types). Closed to nobody; it only looks at
/// headers.</summary>
public sealed class NegotiateContent : IEndpointFilter
{
    private static readonly string[] Read = ["application/fhir+json", "application/json"];

    public async ValueTask<object?> InvokeAsync(EndpointFilterInvocationContext context, EndpointFilterDelegate next)
    {
        var request = context.HttpContext.Request;
        if (HttpMethods.IsPost(request.Method) && !IsJson(request.ContentType))
            return FhirResult.Problem(415, OperationOutcome.IssueType.NotSupported, "send application/fhir+json in UTF-8");
        if (request.Headers.ContentEncoding.Count > 0)
            return FhirResult.Problem(415, OperationOutcome.IssueType.NotSupported, "send the body as it is, without a content encoding");
        return Accepts(request) ? await next(context) : FhirResult.Problem(
            406, OperationOutcome.IssueType.NotSupported, "answers are application/fhir+json");
    }

    private static bool IsJson(string? contentType) =>
        MediaTypeHeaderValue.TryParse(contentType, out var type)
        && Read.Contains(type.MediaType.Value, StringComparer.OrdinalIgnoreCase)
        && (!type.Charset.HasValue || HeaderUtilities.RemoveQuotes(type.Charset).Equals("utf-8", StringComparison.OrdinalIgnoreCase));

    /// <summary><c>_format</c> overrides Accept, which a browser's address line cannot set.</summary>
    private static bool Accepts(HttpRequest request)
    {
        if (request.Query["_format"].ToString() is { Length: > 0 } format)
            return format == "json" || Read.Contains(format.Replace(' ', '+'), StringComparer.OrdinalIgnoreCase);
        return request.GetTypedHeaders().Accept is not { Count: > 0 } accept
            || accept.Any(a => a.Quality != 0 && (a.MatchesAllTypes || (a.MatchesAllSubTypes && a.Type == "application")
                || Read.Contains(a.MediaType.Value, StringComparer.OrdinalIgnoreCase)));
    }
}
