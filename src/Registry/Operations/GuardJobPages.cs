using System.Globalization;
using System.Text.RegularExpressions;
using Hangfire.Dashboard;

namespace Registry.Operations;

/// <summary>The pages of the jobs library answer any verb, and fail where a command is asked for like a page or a job's number is none:
/// before them stands what they should have said.</summary>
internal static class GuardJobPages
{
    /// <summary>What the library does by a form, by the names of the types that do it; the rest are pages and files. A test asks each of
    /// its routes.</summary>
    private static readonly HashSet<string> ByForm = ["CommandDispatcher", "BatchCommandDispatcher", "JsonStats"];

    public static void Before(EndpointBuilder endpoint)
    {
        var page = endpoint.RequestDelegate!;
        endpoint.RequestDelegate = http =>
        {
            if (Refusal(http.Request) is not { } status) return page(http);
            http.Response.StatusCode = status;
            return Task.CompletedTask;
        };
    }

    private static int? Refusal(HttpRequest request)
    {
        if (DashboardRoutes.Routes.FindDispatcher("/" + request.RouteValues["path"]) is not var (does, match))
            return StatusCodes.Status404NotFound;
        var byForm = ByForm.Contains(does.GetType().Name);
        var answers = byForm ? HttpMethods.IsPost(request.Method)
            : HttpMethods.IsGet(request.Method) || HttpMethods.IsHead(request.Method);
        if (!answers) return StatusCodes.Status405MethodNotAllowed;
        return IsNoNumber(match.Groups["JobId"]) ? StatusCodes.Status404NotFound : null;
    }

    private static bool IsNoNumber(Group id) =>
        id.Success && !long.TryParse(id.Value, NumberStyles.None, CultureInfo.InvariantCulture, out _);
}
