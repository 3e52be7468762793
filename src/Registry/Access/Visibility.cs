using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// The one rule about who sees which infant. A coordinator sees every infant of the region. A case worker sees the infants of their
/// counties and those assigned to them. Anybody else sees the infants about whom their site, or a closed one it continues, currently
/// holds a fact (the birth, a test, an identifier, ...) or to whom care was passed
/// by a transfer. A site keeps seeing an infant it has reported on, since it must be able to correct what it
/// reported; a row that was retracted (attached to the wrong infant) no longer opens the record. Whoever broke the glass sees that one
/// infant until it closes.
/// </summary>
/// <remarks>
/// Every query that returns infants must hold <see cref="Where"/>. Which sites see which infants is kept beside the facts
/// (<see cref="InfantSites"/>, <see cref="InfantShown"/>), so the cost of the rule follows the site's own infants and not the region's.
/// A viewer without a site matches nothing: <c>site_id = null</c> is never true.
/// </remarks>
public static class Visibility
{
    /// <summary>The infants of a site and of keys that are given as SQL: the same words for the rule and for the database's own row
    /// security.</summary>
    internal static string InfantsOf(string site, string keys) =>
        $"select infant_id from infant_sites where site_id = any ({SitesOf(site)})"
            + $" union all select infant_id from infant_shown where shown_to = any ({keys})";

    /// <summary>The site, and closed ones whose infants it has now.</summary>
    internal static string SitesOf(string site) => $"array(select h.site_id from site_heirs h where h.heir_id = {site})";

    /// <summary>The predicate, for a column that holds an infant id (<c>s.infant_id</c>). Needs <see cref="Bind"/>.</summary>
    /// <remarks>As a question about one row: the planner looks one infant up, or gathers the site's infants once for a list.</remarks>
    public static string Where(string infantIdColumn) =>
        $"(@viewer_sees_all or exists (select from ({InfantsOf("@viewer_site", "@viewer_keys")}) seen "
            + $"where seen.infant_id = {infantIdColumn}))";

    /// <summary>The parameters of <see cref="Where"/>.</summary>
    public static NpgsqlParameter[] Parameters(Viewer viewer) =>
    [
        new NpgsqlParameter<bool>("viewer_sees_all", viewer.IsCoordinator),
        new("viewer_site", NpgsqlTypes.NpgsqlDbType.Uuid) { Value = (object?)viewer.SiteId?.Value ?? DBNull.Value },
        new NpgsqlParameter<string[]>("viewer_keys", [.. viewer.Keys]),
    ];

    /// <summary>Adds the parameters of <see cref="Where"/> to a command.</summary>
    public static void Bind(NpgsqlCommand command, Viewer viewer) => command.Parameters.AddRange(Parameters(viewer));

    private static readonly string InfantsSql = "select i.* from infants i where " + Where("i.id");

    /// <summary>The infants the viewer sees, to compose on in EF.</summary>
    public static IQueryable<Infant> VisibleInfants(this RegistryDb db, Viewer viewer) =>
        db.Infants.FromSqlRaw(InfantsSql, [.. Parameters(viewer)]);
}
