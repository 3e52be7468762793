namespace Registry.Access;

/// <summary>
/// A browser's cookie goes along with what another site makes it send. So whatever changes something and comes with a session must come
/// from the registry's own pages: by <c>Sec-Fetch-Site</c>, else by <c>Origin</c>. A page's form has its token besides; a call of an
/// interface has nothing else, so there one of the two must be sent. A site key is no cookie and is not asked.
/// </summary>
/// <remarks>Fetch Metadata Request Headers, W3C; Origin, RFC 6454.</remarks>
internal static class RequireSameOrigin
{
    public static Task RunAsync(HttpContext http, RequestDelegate next)
    {
        var request = http.Request;
        if (HttpMethods.IsGet(request.Method) || HttpMethods.IsHead(request.Method) || HttpMethods.IsOptions(request.Method)
            || Viewer.Of(http.User).PersonId is null || IsOwn(request)) return next(http);
        return SiteKeyAuthentication.WriteProblemAsync(http, StatusCodes.Status403Forbidden, "Not from a page of this registry",
            "With a sign-in, this can be sent from the registry's own pages only. A program sends a site key instead.");
    }

    private static bool IsOwn(HttpRequest request)
    {
        if (request.Headers["Sec-Fetch-Site"].ToString() is { Length: > 0 } site) return site is "same-origin";
        if (request.Headers.Origin.ToString() is { Length: > 0 } origin)
            return origin.Equals($"{request.Scheme}://{request.Host}", StringComparison.OrdinalIgnoreCase);
        return !request.Path.StartsWithSegments("/api", StringComparison.OrdinalIgnoreCase)
            && !request.Path.StartsWithSegments("/fhir", StringComparison.OrdinalIgnoreCase);
    }
}
