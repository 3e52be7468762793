-- The mappings of a site that fit a file, read over those in force: by name, or else by the header.
select id, name, version, document::text from in_force
 where site_id = $1 and ($2::text is null or lower(name) = lower($2)) and ($2::text is not null or header_sha256 = $3)
 order by name limit 5
