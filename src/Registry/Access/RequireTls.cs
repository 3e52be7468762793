namespace Registry.Access;

/// <summary>What came in plain text is told so, before any cookie is set or read. Monitors may ask for health without TLS.</summary>
internal static class RequireTls
{
    public static Task RunAsync(HttpContext http, RequestDelegate next)
    {
        if (http.Request.IsHttps || http.Request.Path.StartsWithSegments("/health")) return next(http);
        http.Response.StatusCode = StatusCodes.Status400BadRequest;
        http.Response.Headers.CacheControl = "no-store";
        http.Response.ContentType = "text/plain; charset=utf-8";
        return http.Response.WriteAsync(
            "This registry is reached by https only. (Behind a proxy: declare its address in Access:Proxies, and have it send "
            + "X-Forwarded-Proto.)\n", http.RequestAborted);
    }
}
