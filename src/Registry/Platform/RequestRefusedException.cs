using Microsoft.AspNetCore.Diagnostics;

namespace Registry.Platform;

/// <summary>What was asked for cannot be had, or not now. Thrown wherever that is noticed; answered as the interface that was asked says
/// such things. Title and detail are shown: they repeat no value of a person.</summary>
/// <param name="status">400, 410, or 429 with a time.</param>
/// <param name="title">What is the matter.</param>
/// <param name="detail">What to do.</param>
/// <param name="retryAfterSeconds">When it is worth asking again; null: never, as it was asked.</param>
public sealed class RequestRefusedException(int status, string title, string detail, int? retryAfterSeconds = null) : Exception
{
    public int Status => status;
    public string Title => title;
    public string Detail => detail;
    public int? RetryAfterSeconds => retryAfterSeconds;
}

/// <summary>Says it to callers of an interface; a browser gets the page of problems.</summary>
internal sealed class AnswerRefusal : IExceptionHandler
{
    public async ValueTask<bool> TryHandleAsync(HttpContext httpContext, Exception exception, CancellationToken cancellationToken)
    {
        if (exception is not RequestRefusedException refused) return false;
        var asked = httpContext.Features.Get<IExceptionHandlerPathFeature>()?.Path ?? httpContext.Request.Path;
        return await AnswerLater.WriteAsync(httpContext, asked, new(refused.Status, refused.RetryAfterSeconds, refused.Title,
            refused.Detail, refused.Status == StatusCodes.Status429TooManyRequests ? "throttled" : "invalid"), cancellationToken);
    }
}
