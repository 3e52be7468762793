namespace Registry.Access;

/// <summary>
/// What a site has to do with an infant, as SQL: the words of <c>Registry.Rules.Linkage.SiteLink</c>. A site is known to an infant that
/// sees it (<see cref="Visibility"/>: it, or a closed one it continues, reported on it, or care was passed to it) or whose claim was
/// confirmed; an agreement hands it infants of another site; anything else it reports is a claim, and no fact until somebody confirms it.
/// </summary>
/// <remarks>Each part is a probe of an index by infant, written as a scalar so that it is never made a hash of a whole table. A site
/// of vital records reports for the office, about every birth: common practice, no source.</remarks>
public static class SiteLinks
{
    /// <summary>True for a site that is known; both arguments are columns.</summary>
    /// <remarks>The names of tables within must be no caller's: a column of the caller's <c>h</c> would be one of ours, and every site
    /// known.</remarks>
    public static string Known(string infant, string site) =>
        $"((select 1 from site_heirs heirs_of join infant_sites seen_by on seen_by.site_id = heirs_of.site_id"
        + $" where heirs_of.heir_id = {site} and seen_by.infant_id = {infant} limit 1) is not null"
        + $" or coalesce({Decision(infant, site)} = 'confirmed', false))";

    /// <summary>True where a stated agreement hands the infant to the site on a day.</summary>
    public static string Agreed(string infant, string site, string today) =>
        $"""
        ((select 1 from sites v where v.id = {site} and v.kind = 'vital_records') is not null
         or (select 1 from births ab
               left join infant_status st on st.infant_id = ab.infant_id
               join care_agreements a on a.from_site_id in (ab.site_id, st.responsible_site_id) and a.to_site_id = {site}
                and a.from_on <= {today} and (a.until_on is null or a.until_on > {today})
              where ab.infant_id = {infant} and ab.superseded_at is null
                and (a.covers = 'all' or (st.next_step is not null and st.next_step <> 'screen'))
              limit 1) is not null)
        """;

    /// <summary>The code of the link.</summary>
    public static string Of(string infant, string site, string today) =>
        $"""
        case when {Known(infant, site)} then 'known'
             when {Decision(infant, site)} = 'refused' then 'refused'
             when {Agreed(infant, site, today)} then 'agreed'
             else 'none' end
        """;

    private static string Decision(string infant, string site) =>
        $"(select d.decision from claim_decisions d where d.infant_id = {infant} and d.site_id = {site} order by d.id desc limit 1)";
}
