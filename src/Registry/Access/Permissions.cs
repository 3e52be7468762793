using Microsoft.AspNetCore.Authorization;

namespace Registry.Access;

/// <summary>
/// Named authorisation policies (not the program's policy, which is data). What is not named is denied: the fallback
/// requires a signed-in person, so a page or endpoint that forgets its guard is closed to anonymous callers and to
/// site keys alike.
/// </summary>
public static class Permissions
{
    /// <summary>Any signed-in person (the fallback).</summary>
    public const string Person = "person";

    /// <summary>The program's staff.</summary>
    public const string Coordinator = "coordinator";

    /// <summary>The program's staff or the manager of a site; which site, <see cref="Viewer.MaySee"/> says.</summary>
    public const string SiteManager = "site_manager";

    /// <summary>Whoever may submit for some site: a site's key, its screeners and manager, a coordinator.
    /// Which site, <see cref="Viewer.MaySubmitFor"/> says.</summary>
    public const string SubmitForSite = "submit_for_site";

    internal static void Add(AuthorizationOptions options)
    {
        var person = new AuthorizationPolicyBuilder().RequireAuthenticatedUser()
            .RequireAssertion(c => Viewer.Of(c.User).PersonId is not null).Build();
        options.DefaultPolicy = person;
        options.FallbackPolicy = person;
        options.AddPolicy(Person, person);
        options.AddPolicy(Coordinator, p => p.Combine(person)
            .RequireAssertion(c => Viewer.Of(c.User).IsCoordinator));
        options.AddPolicy(SiteManager, p => p.Combine(person)
            .RequireAssertion(c => Viewer.Of(c.User) is { IsCoordinator: true } or { IsSiteManager: true, SiteId: not null }));
        options.AddPolicy(SubmitForSite, p => p.RequireAuthenticatedUser()
            .RequireAssertion(c => Viewer.Of(c.User) is { IsCoordinator: true } or { SiteId: not null }));
    }
}
