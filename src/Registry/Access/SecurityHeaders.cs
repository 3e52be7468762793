namespace Registry.Access;

/// <summary>What every answer carries: our own scripts, styles and images only, no framing, no referrer, and no cached
/// copy of a page that may show people.</summary>
public static class SecurityHeaders
{
    // The two hashes are the style blocks the chart library puts into every drawing, with this house's class name.
    private const string Content =
        "default-src 'self'; style-src 'self' 'sha256-vnLCBQhI2E03zAY/Mp8RxBhuZSloT7+cclqIlG2t6/M=' "
            + "'sha256-+TfQir1nvDucAdvE6XUQBt4ayUjpAWkbw2kCdSfekHM='; img-src 'self' data:; object-src 'none'; base-uri 'none'; "
            + "form-action 'self'; frame-ancestors 'none'";

    public static Task AddAsync(HttpContext http, RequestDelegate next)
    {
        var headers = http.Response.Headers;
        headers.ContentSecurityPolicy = Content;
        headers.XContentTypeOptions = "nosniff";
        headers.XFrameOptions = "DENY";
        headers["Referrer-Policy"] = "no-referrer";
        headers["Permissions-Policy"] = "camera=(), microphone=(), geolocation=()";
        headers["Cross-Origin-Opener-Policy"] = "same-origin";
        headers["Cross-Origin-Embedder-Policy"] = "require-corp";
        headers["Cross-Origin-Resource-Policy"] = "same-origin";
        headers["X-Permitted-Cross-Domain-Policies"] = "none";
        http.Response.OnStarting(() =>
        {
            if (!headers.ContainsKey("Cache-Control")) headers.CacheControl = "no-store";
            return Task.CompletedTask;
        });
        return next(http);
    }
}
