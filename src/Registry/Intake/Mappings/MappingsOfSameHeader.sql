select other.name from in_force m join in_force other using (site_id, header_sha256)
 where m.mapping_id = $1 and other.mapping_id <> $1 order by other.name
