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

    /// <summary>Counts as they may be released, their methods, and the policy: no infant.</summary>
    public const string SeeCounts = "see_counts";

    /// <summary>A row an infant without what says who it is, of the whole region.</summary>
    public const string TakeExtract = "take_extract";

    /// <summary>Opening the record of a child one has before oneself, for a stated reason and a while.</summary>
    public const string BreakGlass = "break_glass";

    /// <summary>Pages that show infants or counts of those one sees (the fallback); which infants, <see cref="Visibility"/> says.</summary>
    public const string SeeInfants = "see_infants";

    /// <summary>The program's staff.</summary>
    public const string Coordinator = "coordinator";

    /// <summary>The program's staff or the manager of a site; which site, <see cref="Viewer.MaySee"/> says.</summary>
    public const string SiteManager = "site_manager";

    /// <summary>Whoever may submit for some site: a site's key, its screeners and manager, a coordinator.
    /// Which site, <see cref="Viewer.MaySubmitFor"/> says.</summary>
    public const string SubmitForSite = "submit_for_site";

    /// <summary>Typing how a family is reached and who cares for the child, about an infant one sees by more than a broken glass.</summary>
    public const string EnterFamily = "enter_family";

    /// <summary>Reading infants' records over an interface: not a key that may only send.</summary>
    public const string ReadRecords = "read_records";

    /// <summary>People, site keys, jobs.</summary>
    public const string Administrator = "administrator";

    /// <summary>Who looked at what.</summary>
    public const string ReadTrail = "read_trail";

    /// <summary>What each role holds.</summary>
    public static readonly IReadOnlyDictionary<Role, IReadOnlySet<string>> OfRole = new Dictionary<Role, IReadOnlySet<string>>
    {
        [Role.Administrator] = Set(Person, Administrator),
        [Role.Coordinator] = Set(
            Person, SeeCounts, SeeInfants, SubmitForSite, EnterFamily, ReadRecords, SiteManager, Coordinator, ReadTrail, TakeExtract),
        [Role.Auditor] = Set(Person, ReadTrail),
        [Role.SiteManager] = Set(Person, SeeCounts, SeeInfants, SubmitForSite, EnterFamily, ReadRecords, SiteManager, BreakGlass),
        [Role.Screener] = Set(Person, SeeCounts, SeeInfants, SubmitForSite, EnterFamily, ReadRecords, BreakGlass),
        [Role.AudiologyClinic] = Set(Person, SeeCounts, SeeInfants, SubmitForSite, EnterFamily, ReadRecords, BreakGlass),
        [Role.InterventionProgram] = Set(Person, SeeCounts, SeeInfants, SubmitForSite, EnterFamily, ReadRecords, BreakGlass),
        [Role.VitalRecords] = Set(Person, SeeCounts, SeeInfants, SubmitForSite, EnterFamily),
        [Role.CaseWorker] = Set(Person, SeeCounts, SeeInfants, EnterFamily, BreakGlass),
        [Role.Epidemiologist] = Set(Person, SeeCounts, TakeExtract),
    };

    /// <summary>What a site's key holds, and a token that was given for it.</summary>
    public static readonly IReadOnlyDictionary<KeyScope, IReadOnlySet<string>> OfKey = new Dictionary<KeyScope, IReadOnlySet<string>>
    {
        [KeyScope.Send] = Set(SubmitForSite),
        [KeyScope.SendAndRead] = Set(SubmitForSite, ReadRecords),
        [KeyScope.Read] = Set(ReadRecords),
    };

    /// <summary>Roles that are about more than one site, and so ask for a second factor.</summary>
    public static bool SeesSeveralSites(Role role) =>
        role is Role.Administrator or Role.Coordinator or Role.Auditor or Role.CaseWorker or Role.Epidemiologist;

    /// <summary>Roles at a site; the others are the program's own people.</summary>
    public static bool NeedsSite(Role role) => !SeesSeveralSites(role);

    /// <summary>The page a role begins with.</summary>
    public static string HomeOf(Role? role) => role switch
    {
        Role.Administrator => "/operations",
        Role.Auditor => "/access/trail",
        Role.Epidemiologist => "/reports",
        Role.Screener => "/ward",
        Role.AudiologyClinic => "/clinic",
        Role.InterventionProgram => "/early-intervention",
        _ => "/",
    };

    /// <summary>Whether who asks holds a permission. One who needs a site and has none holds none that is about a site.</summary>
    public static bool Holds(ClaimsPrincipal principal, string permission)
    {
        var viewer = Viewer.Of(principal);
        if (viewer is { PersonId: not null, Role: { } role })
            return OfRole[role].Contains(permission)
                && (viewer.SiteId is not null || !NeedsSite(role) || permission is Person or SeeCounts or SeeInfants);
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
