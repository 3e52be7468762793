using Microsoft.AspNetCore.Identity;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// What a person may do. <c>Coordinator</c>: the program's staff, sees every infant of the region. <c>SiteManager</c>: sees
/// the infants and rates of one site. <c>Screener</c>: uploads for one site and sees its submissions and infants.
/// </summary>
public enum Role { Coordinator, SiteManager, Screener }

/// <summary>Someone who signs in. Families never do.</summary>
public sealed class Person : IdentityUser<Guid>
{
    public required string DisplayName { get; set; }
    public Role Role { get; set; }

    /// <summary>The site a manager or screener belongs to; null for coordinators.</summary>
    public SiteId? SiteId { get; set; }
}
