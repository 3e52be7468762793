using Microsoft.EntityFrameworkCore;
using Npgsql;
using Registry.Records;

namespace Registry.Access;

/// <summary>
/// The one rule about who sees which infant. A coordinator sees every infant of the region. A case worker sees the infants of their
/// counties and those assigned to them. Anybody else sees the infants about whom their site, or a closed one it continues, currently
/// holds a fact (the birth, a test, an identifier, ...) or to whom care was passed by a transfer, or by a hand-off while it stands. A site
/// keeps seeing an infant it has reported on, since it must be able to correct what it reported;
/// a row that was retracted (attached to the wrong infant) no longer opens the record. Whoever broke the glass sees that one infant until
/// it closes.
/// </summary>
/// <remarks>
/// Every query that returns infants must hold <see cref="Where"/>. Which sites see which infants is kept beside the facts
/// (<see cref="InfantSites"/>, <see cref="InfantShown"/>), so the cost of the rule follows the site's own infants and not the region's.
/// A viewer without a site matches nothing: <c>site_id = null</c> is never true.
/// </remarks>
public static class Visibility
{
    /// <summary>The infants of a site, given as SQL: the same words for the rule and for the database's own row security.</summary>
    internal static string OfSite(string site) => $"select v.infant_id from infant_sites v where v.site_id = {site}";

    /// <summary>The infants of closed sites that a site continues, and of keys: most viewers have neither.</summary>
    internal static string Otherwise(string site, string keys) =>
        $"select k.infant_id from infant_shown k where k.shown_to = any ({keys})"
            + $" union all select v.infant_id from infant_sites v where v.site_id = any (array({Continued(site)}))";

    /// <summary>The infants of keys that are no county's, which has many: assigned ones, and those behind a broken glass.</summary>
    internal static string OneByOne(string keys) => "select k.infant_id from infant_shown k "
        + $"where k.shown_to = any (array(select o from unnest({keys}) o where o not like 'county:%'))";

    /// <summary>Closed sites whose infants the site has now.</summary>
    internal static string Continued(string site) =>
        $"select h.site_id from site_heirs h where h.heir_id = {site} and h.site_id <> h.heir_id";

    /// <summary>The predicate, for a column that holds an infant id (<c>s.infant_id</c>). Needs <see cref="Bind"/>.</summary>
    /// <remarks>Scalars, so that each is a probe of an index and never a gathering of all the viewer's infants: the row security beneath
    /// is asked first, and only what it lets through comes here.</remarks>
    public static string Where(string infantIdColumn) =>
        $"(@viewer_sees_all"
            + $" or (select 1 from ({OfSite("@viewer_site")}) mine where mine.infant_id = {infantIdColumn}) is not null"
            + $" or (select 1 from ({Otherwise("@viewer_site", "@viewer_keys")}) shown "
            + $"where shown.infant_id = {infantIdColumn} limit 1) is not null)";

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
