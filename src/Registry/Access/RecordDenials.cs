using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Authorization.Policy;
using Registry.Records;

namespace Registry.Access;

/// <summary>Puts to the trail what was asked for and not given: a page the role does not permit, an infant the viewer may not see. The
/// answer stays what it was.</summary>
public sealed class RecordDenials(AppendToTrail trail, DescribeRequest request) : IAuthorizationMiddlewareResultHandler
{
    private readonly AuthorizationMiddlewareResultHandler _answer = new();

    public async Task HandleAsync(RequestDelegate next, HttpContext context, AuthorizationPolicy policy, PolicyAuthorizationResult authorizeResult)
    {
        if (authorizeResult.Forbidden) await trail.AddAsync(request.Entry(context, AccessKind.Denied));
        await _answer.HandleAsync(next, context, policy, authorizeResult);
    }

    /// <summary>An endpoint that shows infants answered as for one that does not exist.</summary>
    public async Task NotShownAsync(HttpContext context, RequestDelegate next)
    {
        var endpoint = context.GetEndpoint();
        await next(context);
        if (context.Response.StatusCode != StatusCodes.Status404NotFound || endpoint?.Metadata.GetMetadata<ShowsInfantsAttribute>() is null
            || context.GetEndpoint() != endpoint) return;
        await trail.AddAsync(request.Entry(context, AccessKind.NotShown, Asked(context)));
    }

    private static InfantId? Asked(HttpContext context) =>
        context.Request.RouteValues["id"]?.ToString() is { Length: >= 36 } id && Guid.TryParse(id.AsSpan(0, 36), out var infant)
            ? new(infant) : null;
}
