using System.Security.Claims;
using Microsoft.AspNetCore.Authorization;

namespace Registry.Access;

/// <summary>Who came in with a password that somebody else gave opens one page: the one that changes it.</summary>
public static class RequireOwnPassword
{
    public const string Page = "/access/own";

    public static bool Holds(ClaimsPrincipal person) => person.HasClaim(c => c.Type == Viewer.GivenPasswordClaim);

    internal static Task RunAsync(HttpContext http, RequestDelegate next)
    {
        if (!Holds(http.User) || http.Request.Path == Page || http.Request.Path == "/sign-out"
            || http.GetEndpoint()?.Metadata.GetMetadata<IAllowAnonymous>() is not null) return next(http);
        http.Response.Redirect(Page);
        return Task.CompletedTask;
    }
}
