using System.Security.Claims;
using Microsoft.AspNetCore.Authorization;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>
/// Named authorisation policies (not the program's policy, which is data), and the one table of who holds which. What is not named is
/// denied: a page or endpoint that forgets its guard is closed to anonymous callers, to site keys, and to those who see no infants.
/// </summary>
public static class Permissions
{
    /// <summary>Any signed-in person: the own account, signing out.</summary>
    public const string Person = "person";

    /// <summary>Pages that show infants or counts of them (the fallback); which infants, <see cref="Visibility"/> says.</summary>
    public const string SeeInfants = "see_infants";

    /// <summary>The program's staff.</summary>
    public const string Coordinator = "coordinator";

    /// <summary>The program's staff or the manager of a site; which site, <see cref="Viewer.MaySee"/> says.</summary>
    public const string SiteManager = "site_manager";

    /// <summary>Whoever may submit for some site: a site's key, its screeners and manager, a coordinator.
    /// Which site, <see cref="Viewer.MaySubmitFor"/> says.</summary>
    public const string SubmitForSite = "submit_for_site";

    /// <summary>The same, reading infants' records over an interface: not a key that may only send.</summary>
    public const string ReadRecords = "read_records";

    /// <summary>People, site keys, jobs.</summary>
    public const string Administrator = "administrator";

    /// <summary>Who looked at what.</summary>
    public const string ReadTrail = "read_trail";

    /// <summary>What each role holds.</summary>
    public static readonly IReadOnlyDictionary<Role, IReadOnlySet<string>> OfRole = new Dictionary<Role, IReadOnlySet<string>>
    {
        [Role.Administrator] = Set(Person, Administrator),
        [Role.Coordinator] = Set(Person, SeeInfants, SubmitForSite, ReadRecords, SiteManager, Coordinator, ReadTrail),
        [Role.Auditor] = Set(Person, ReadTrail),
        [Role.SiteManager] = Set(Person, SeeInfants, SubmitForSite, ReadRecords, SiteManager),
        [Role.Screener] = Set(Person, SeeInfants, SubmitForSite, ReadRecords),
        [Role.AudiologyClinic] = Set(Person, SeeInfants, SubmitForSite, ReadRecords),
        [Role.InterventionProgram] = Set(Person, SeeInfants, SubmitForSite, ReadRecords),
        [Role.VitalRecords] = Set(Person, SeeInfants, SubmitForSite),
    };

    /// <summary>What a site's key holds, and a token that was given for it.</summary>
    public static readonly IReadOnlyDictionary<KeyScope, IReadOnlySet<string>> OfKey = new Dictionary<KeyScope, IReadOnlySet<string>>
    {
        [KeyScope.Send] = Set(SubmitForSite),
        [KeyScope.SendAndRead] = Set(SubmitForSite, ReadRecords),
        [KeyScope.Read] = Set(ReadRecords),
    };

    /// <summary>Roles that are about more than one site, and so ask for a second factor.</summary>
    public static bool SeesSeveralSites(Role role) => role is Role.Administrator or Role.Coordinator or Role.Auditor;

    /// <summary>Roles at a site; the others are the program's own people.</summary>
    public static bool NeedsSite(Role role) => !SeesSeveralSites(role);

    /// <summary>The page a role begins with.</summary>
    public static string HomeOf(Role? role) => role switch
    {
        Role.Administrator => "/operations",
        Role.Auditor => "/access/trail",
        Role.Screener => "/ward",
        _ => "/",
    };

    /// <summary>Whether who asks holds a permission. One who needs a site and has none holds none that is about a site.</summary>
    public static bool Holds(ClaimsPrincipal principal, string permission)
    {
        var viewer = Viewer.Of(principal);
        if (viewer is { PersonId: not null, Role: { } role })
            return OfRole[role].Contains(permission)
                && (viewer.SiteId is not null || !NeedsSite(role) || permission is Person or SeeInfants);
        return viewer is { SiteKeyId: not null, SiteId: not null }
            && Codes.TryParse<KeyScope>(principal.FindFirstValue(Viewer.KeyScopeClaim), out var scope) && OfKey[scope].Contains(permission);
    }

    internal static void Add(AuthorizationOptions options)
    {
        foreach (var permission in OfRole.Values.SelectMany(p => p).Distinct())
            options.AddPolicy(permission, p => p.RequireAuthenticatedUser().RequireAssertion(c => Holds(c.User, permission)));
        options.DefaultPolicy = options.GetPolicy(Person)!;
        options.FallbackPolicy = options.GetPolicy(SeeInfants)!;
    }

    private static HashSet<string> Set(params string[] permissions) => [.. permissions];
}
