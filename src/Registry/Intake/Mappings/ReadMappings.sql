-- Versions of column mappings: the newest of each of a site's (or, with no site, of all), those out of use last; or those of one mapping,
-- newest first.
select m.id, m.mapping_id, m.version, m.site_id, s.name, m.name, m.retired, m.created_at, coalesce(p.display_name, ''), m.document::text,
       (select count(*) from submissions x where x.mapping_version_id = m.id)
  from column_mapping_versions m join sites s on s.id = m.site_id left join people p on p.id = m.created_by
 where case when @mapping::uuid is not null then m.mapping_id = @mapping
            else (@site::uuid is null or m.site_id = @site)
              and m.version = (select max(n.version) from column_mapping_versions n where n.mapping_id = m.mapping_id) end
 order by case when @mapping::uuid is not null then m.version end desc nulls last, m.retired, s.name, lower(m.name)
