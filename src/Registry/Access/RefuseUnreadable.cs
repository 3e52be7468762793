using System.Globalization;
using Microsoft.AspNetCore.Diagnostics;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.Filters;

namespace Registry.Access;

/// <summary>A text with a NUL is no text to the database, and a day a thousand years away is none to reckon with: such a path or query is
/// answered 400, whoever asks and whatever for.</summary>
internal static class RefuseUnreadable
{
    private const int EarliestYear = 1900, LatestYear = 2200;

    public static Task RunAsync(HttpContext http, RequestDelegate next)
    {
        var request = http.Request;
        if (!Holds(request.Path.Value) && !request.Query.Any(q => Holds(q.Key) || q.Value.Any(v => Holds(v) || IsFarDay(v))))
            return next(http);
        http.Response.StatusCode = StatusCodes.Status400BadRequest;
        return Task.CompletedTask; // the page of problems says it
    }

    private static bool IsFarDay(string? text) =>
        DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out var day)
        && day.Year is (< EarliestYear or > LatestYear);

    internal static bool Holds(string? text) => text?.Contains('\0', StringComparison.Ordinal) == true;
}

/// <summary>The same for the fields of a form; and a verb a page has no handler for is answered 405, not with a page nobody
/// filled.</summary>
public sealed class RefuseUnreadableForm : IAsyncPageFilter
{
    public Task OnPageHandlerSelectionAsync(PageHandlerSelectedContext context) => Task.CompletedTask;

    public async Task OnPageHandlerExecutionAsync(PageHandlerExecutingContext context, PageHandlerExecutionDelegate next)
    {
        var request = context.HttpContext.Request;
        var reads = HttpMethods.IsGet(request.Method) || HttpMethods.IsHead(request.Method);
        if (context.HandlerMethod is null && !reads) context.Result = new StatusCodeResult(StatusCodes.Status405MethodNotAllowed);
        else if (context.HttpContext.Features.Get<IStatusCodeReExecuteFeature>() is null && !await IsReadableAsync(request))
            context.Result = new BadRequestResult();
        else await next(); // the page of problems reads no form, whatever was sent with it
    }

    private static async Task<bool> IsReadableAsync(HttpRequest request)
    {
        if (!request.HasFormContentType) return true;
        try
        {
            var form = await request.ReadFormAsync(request.HttpContext.RequestAborted);
            return !form.Any(f => RefuseUnreadable.Holds(f.Key) || f.Value.Any(RefuseUnreadable.Holds));
        }
        catch (InvalidDataException)
        {
            return false; // the framework's own word for the same
        }
    }
}
