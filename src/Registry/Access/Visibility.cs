using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// The one rule about who sees which infant. A coordinator sees every infant of the region. Anybody else sees the infants
/// about whom their site currently holds a fact (the birth, a test, an identifier, ...) or to whom care was passed
/// by a transfer. A site keeps seeing an infant it has reported on, since it must be able to correct what it
/// reported; a row that was retracted (attached to the wrong infant) no longer opens the record.
/// </summary>
/// <remarks>
/// Every query that returns infants must hold <see cref="Where"/>. Which sites see which infants is kept beside the facts
/// (<see cref="InfantSites"/>), so the cost of the rule follows the site's own infants and not the region's.
/// A viewer without a site matches nothing: <c>site_id = null</c> is never true.
/// </remarks>
public static class Visibility
{
    /// <summary>The infants of a site that is given as SQL: the same words for the rule and for the database's own row
    /// security.</summary>
    internal static string InfantsOf(string site) => $"select infant_id from infant_sites where site_id = {site}";

    /// <summary>The predicate, for a column that holds an infant id (<c>s.infant_id</c>). Needs <see cref="Bind"/>.</summary>
    /// <remarks>As a question about one row: the planner looks one infant up, or gathers the site's infants once for a list.</remarks>
    public static string Where(string infantIdColumn) =>
        $"(@viewer_sees_all or exists ({InfantsOf("@viewer_site")} and infant_sites.infant_id = {infantIdColumn}))";

    /// <summary>The two parameters of <see cref="Where"/>.</summary>
    public static NpgsqlParameter[] Parameters(Viewer viewer) =>
    [
        new NpgsqlParameter<bool>("viewer_sees_all", viewer.IsCoordinator),
        new("viewer_site", NpgsqlTypes.NpgsqlDbType.Uuid) { Value = (object?)viewer.SiteId?.Value ?? DBNull.Value },
    ];

    /// <summary>Adds the parameters of <see cref="Where"/> to a command.</summary>
    public static void Bind(NpgsqlCommand command, Viewer viewer) => command.Parameters.AddRange(Parameters(viewer));

    private static readonly string InfantsSql = "select i.* from infants i where " + Where("i.id");

    /// <summary>The infants the viewer sees, to compose on in EF.</summary>
    public static IQueryable<Infant> VisibleInfants(this RegistryDb db, Viewer viewer) =>
        db.Infants.FromSqlRaw(InfantsSql, [.. Parameters(viewer)]);
}
