using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Authorization.Policy;

namespace Registry.Access;

/// <summary>Puts to the trail what was asked for and not given: a page the role does not permit, an infant the viewer may not see. The
/// answer stays what it was.</summary>
public sealed class RecordDenials(AppendToTrail trail, DescribeRequest request) : IAuthorizationMiddlewareResultHandler
{
    /// <summary>Where the id in the route is an infant's; elsewhere it is a submission's or another's.</summary>
    private static readonly PathString[] IdsOfInfants = ["/infants", "/fhir/Patient"];

    private readonly AuthorizationMiddlewareResultHandler _answer = new();

    public async Task HandleAsync(
        RequestDelegate next, HttpContext context, AuthorizationPolicy policy, PolicyAuthorizationResult authorizeResult)
    {
        // Who has still to show the second factor is sent to where it is asked for, not denied.
        if (authorizeResult.Forbidden && Entering.Of(context.User) is null) await trail.AddAsync(request.Entry(context, AccessKind.Denied));
        await _answer.HandleAsync(next, context, policy, authorizeResult);
    }

    /// <summary>An endpoint that shows infants answered as for one that does not exist.</summary>
    public async Task NotShownAsync(HttpContext context, RequestDelegate next)
    {
        var endpoint = context.GetEndpoint();
        await next(context);
        if (context.Response.StatusCode != StatusCodes.Status404NotFound || endpoint?.Metadata.GetMetadata<ShowsInfantsAttribute>() is null
            || context.GetEndpoint() != endpoint) return;
        var id = context.Request.RouteValues["id"]?.ToString() is { Length: >= 36 } text && Guid.TryParse(text.AsSpan(0, 36), out var asked)
            ? asked : (Guid?)null;
        var isInfant = IdsOfInfants.Any(start => context.Request.Path.StartsWithSegments(start, StringComparison.OrdinalIgnoreCase));
        await trail.AddAsync(request.Entry(context, AccessKind.NotShown,
            isInfant && id is { } infant ? new(infant) : null, subject: isInfant ? null : id));
    }
}
