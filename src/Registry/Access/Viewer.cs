using System.Security.Claims;
using Registry.Records;
using Registry.Rules.Facts;

namespace Registry.Access;

/// <summary>
/// Who is asking: a signed-in person or a site's key, read from the principal and nothing else. Anything missing or
/// unreadable leaves the narrowest rights.
/// </summary>
/// <param name="PersonId">Set for a person.</param>
/// <param name="SiteKeyId">Set for a site key.</param>
/// <param name="Role">A person's role; null for a site key.</param>
/// <param name="SiteId">The site a manager, a screener or a key belongs to; null for the program's own people.</param>
/// <param name="Name">Display name of the person, or the key's name.</param>
public sealed record Viewer(Guid? PersonId, Guid? SiteKeyId, Role? Role, SiteId? SiteId, string Name)
{
    internal const string PersonClaim = "registry:person";
    internal const string SiteKeyClaim = "registry:site_key";
    internal const string RoleClaim = "registry:role";
    internal const string SiteClaim = "registry:site";
    internal const string NameClaim = "registry:name";
    internal const string SessionClaim = "registry:session";
    internal const string KeyScopeClaim = "registry:key_scope";
    internal const string PlacesClaim = "registry:places";
    internal const string CountyClaim = "registry:county";
    internal const string GlassClaim = "registry:glass";
    internal const string GivenPasswordClaim = "registry:given_password";

    /// <summary>Nobody: sees nothing, may do nothing.</summary>
    public static Viewer Nobody { get; } = new(null, null, null, null, "");

    /// <summary>A case worker's.</summary>
    public IReadOnlyList<string> Counties { get; init; } = [];

    /// <summary>The glasses this person broke that are open at this moment.</summary>
    public IReadOnlyList<Guid> Glasses { get; init; } = [];

    /// <summary>What an infant is shown to this viewer by, beside facts of a site (<see cref="InfantShown"/>).</summary>
    public IEnumerable<string> Keys => OneByOne.Concat(IsCaseWorker ? Counties.Select(InfantShown.ToCounty) : []);

    /// <summary>Those of them by which infants are shown one by one: a few each.</summary>
    public IEnumerable<string> OneByOne => Glasses.Select(InfantShown.ToGlass).Concat(
        IsCaseWorker ? [InfantShown.ToCaseWorker(PersonId ?? Guid.Empty)] : []);

    public bool IsCoordinator => Role == Records.Role.Coordinator;
    public bool IsAdministrator => Role == Records.Role.Administrator;
    public bool IsAuditor => Role == Records.Role.Auditor;
    public bool IsCaseWorker => Role == Records.Role.CaseWorker;
    public bool IsSiteManager => Role == Records.Role.SiteManager;

    /// <summary>Coordinators submit for every site; everybody else for their own.</summary>
    public bool MaySubmitFor(SiteId site) => IsCoordinator || (SiteId is { } own && own == site);

    /// <summary>Contact attempts entered on a page; case workers enter them for the site that owns the next step, as coordinators do.
    /// </summary>
    public bool MayTakeBackFor(SiteId site) => MaySubmitFor(site) || IsCaseWorker;

    /// <summary>Rates, submissions and settings of a site follow the same line as its infants.</summary>
    public bool MaySee(SiteId site) => MaySubmitFor(site);

    /// <summary>Reads the claims issued at sign-in or by <see cref="SiteKeyAuthentication"/>.</summary>
    public static Viewer Of(ClaimsPrincipal principal)
    {
        if (principal.Identity is not { IsAuthenticated: true }) return Nobody;
        var role = Codes.TryParse<Role>(principal.FindFirstValue(RoleClaim), out var r) ? r : (Role?)null;
        var site = Records.SiteId.TryParse(principal.FindFirstValue(SiteClaim), null, out var s) ? s : (SiteId?)null;
        return new(
            Id(principal, PersonClaim), Id(principal, SiteKeyClaim), role, site,
            principal.FindFirstValue(NameClaim) ?? "")
        {
            Counties = [.. principal.FindAll(CountyClaim).Select(c => c.Value)],
            Glasses = [.. principal.FindAll(GlassClaim).Select(c => Guid.Parse(c.Value))],
        };
    }

    /// <summary>The session of the request, for the page that lists them.</summary>
    public static Guid? SessionOf(ClaimsPrincipal principal) => Id(principal, SessionClaim);

    private static Guid? Id(ClaimsPrincipal principal, string claim) =>
        Guid.TryParse(principal.FindFirstValue(claim), out var id) ? id : null;
}
